//! Columns against readings kept one by one.

use super::*;
use crate::trial::readings::Direction;
use std::sync::Arc;

fn full(row: u64) -> DiameterReading {
    let text = |text: &str| (row % 3 == 1).then(|| Arc::from(text));
    DiameterReading {
        setting: u32::try_from(row % 2).unwrap(),
        pass: u32::try_from(row / 4).unwrap(),
        direction: if row.is_multiple_of(5) { Direction::ToTailstock } else { Direction::ToHeadstock },
        diameter_mm: if row == 6 { 37.5 } else { 38.0 + row as f64 },
        repeat: (row > 3).then_some(7),
        angle_deg: (row == 2).then_some(90.0),
        depth_mm: 0.1,
        edge: text("a"),
        time_min: (row > 4).then_some(row as f64),
        measured_at: text("noon"),
        tool_shift_mm: 3.0,
        temperature_c: (row == 6).then_some(24.0),
        operator: text("A"),
        gauge: text("m"),
        excluded: text("chip"),
        note: text("n"),
        ..DiameterReading::bare(Place { file: usize::from(row > 6), row: row + row / 3 }, 10.0 * (row % 4) as f64, 38.0 + row as f64)
    }
}

#[test]
fn what_is_put_in_comes_out() {
    let readings: Vec<DiameterReading> = (0..12).map(full).collect();
    let diameters: Diameters = readings.iter().cloned().collect();
    assert_eq!(diameters.to_vec(), readings);
    assert_eq!(diameters.len(), 12);
    assert_eq!(diameters.get(12), None);
    assert_eq!(diameters.settings(), [0, 1]);
    let mut other = diameters.clone();
    assert_eq!(other, diameters);
    other.change(|row, reading| reading.read_mm += if row == 11 { 1e-9 } else { 0.0 });
    assert_ne!(other, diameters, "one changed in the last figures");
}

#[test]
fn blocks_put_together_are_the_whole() {
    let readings: Vec<DiameterReading> = (0..12)
        .map(|row| DiameterReading {
            setting: 0,
            pass: 1,
            direction: Direction::ToHeadstock,
            depth_mm: 0.0,
            edge: None,
            time_min: None,
            tool_shift_mm: 0.0,
            diameter_mm: 38.0 + row as f64,
            ..full(row)
        })
        .collect();
    for cut in 0..12 {
        let (mut whole, mut second) = (Diameters::default(), Diameters::default());
        for (row, reading) in readings.iter().enumerate() {
            if row < cut {
                whole.push_uncut(reading);
            } else {
                let place = Place { row: reading.place.row - cut as u64, ..reading.place };
                second.push_uncut(&DiameterReading { place, ..reading.clone() });
            }
        }
        whole.append_uncut(&second, cut as u64);
        assert_eq!(whole.to_vec(), readings, "cut at {cut}");
    }
}
