//! Any bytes are read or refused without a panic; the same readings in another dress give the same trial.

use super::bench::{read_bytes, read_folder};
use proptest::prelude::*;
use taperwright::ingest::ReadOptions;

/// Letters that logs and settings are made of, so that random text gets far into the reader.
const LETTERS: &str = "stationdiametermm_in,;\t\n\r\" .0123456789-+eE()[]#=µ\"'\u{feff}passto-headstock";

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        let _ = read_bytes(&bytes, &ReadOptions::default());
    }

    #[test]
    fn any_text_below_a_header_is_read_or_refused(
        header in prop_oneof![
            Just("station_mm,diameter_mm,time,exclude\n"), Just("station_mm;diameter_mm;pass;direction;depth_mm\n"),
            Just("station_mm 1 2 3\n"), Just("foot\tstation_mm\tchange_um\n"), Just("from,to,foot,turns\n"), Just("station_mm,roll_div\n"), Just("")],
        body in proptest::collection::vec(proptest::sample::select(LETTERS.chars().collect::<Vec<_>>()), 0..300),
    ) {
        let text: String = header.chars().chain(body).collect();
        if let Ok(trial) = read_bytes(text.as_bytes(), &ReadOptions::default()) {
            prop_assert!(trial.diameters.len() >= 2);
            prop_assert!(trial.diameters.iter().all(|r| r.diameter_mm > 0.0 && r.diameter_mm.is_finite() && r.station_mm.is_finite()));
        }
    }

    #[test]
    fn any_settings_are_read_or_refused(
        table in prop_oneof![Just("[bar]\n"), Just("[gauge.diameter.x]\n"), Just("[[acceptance.limit]]\n"), Just("[simulate]\n"), Just("")],
        key in prop_oneof![Just("diameter_mm = "), Just("collars_in = "), Just("stations_mm = "), Just("quantity = "), Just("")],
        value in proptest::collection::vec(proptest::sample::select("0123456789.[],\"'= \n{}taper-einfnan#".chars().collect::<Vec<_>>()), 0..60),
    ) {
        let text: String = table.chars().chain(key.chars()).chain(value).collect();
        let _ = read_folder(&[("trial.toml", &text), ("diameters.csv", "station_mm,diameter_mm\n10,38\n20,38\n")]);
    }

    /// Thousandths of a millimetre written in another unit, separator, mark, quoting, encoding and line end come back as they were.
    #[test]
    fn the_dress_of_a_log_does_not_matter(
        rows in proptest::collection::vec((1_u32..5_000_000, 1_000_u32..500_000, 1_u32..4), 3..30),
        unit in prop_oneof![Just(("mm", 1e-3, 3)), Just(("um", 1.0, 0)), Just(("cm", 1e-4, 4)), Just(("in", 1e-3 / 25.4, 12)), Just(("thou", 1.0 / 25.4, 9))],
        separator in prop_oneof![Just(','), Just(';'), Just('\t'), Just(' ')],
        comma in any::<bool>(),
        end in prop_oneof![Just("\n"), Just("\r\n"), Just("\r")],
        wide_letters in any::<bool>(),
    ) {
        let (name, factor, digits) = unit;
        let mut text = ["pass", &format!("station_{name}"), &format!("diameter_{name}")].join(&separator.to_string()) + end;
        for (station, diameter, pass) in &rows {
            let cells = [*station, *diameter].map(|um| {
                let number = format!("{:.digits$}", f64::from(um) * factor);
                let number = if comma { number.replace('.', ",") } else { number };
                if comma && separator == ',' { format!("\"{number}\"") } else { number }
            });
            text += &[pass.to_string(), cells[0].clone(), cells[1].clone()].join(&separator.to_string());
            text += end;
        }
        let bytes = if wide_letters { [0xFF, 0xFE].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect() } else { text.into_bytes() };
        match read_bytes(&bytes, &ReadOptions::default()) {
            Ok(trial) => {
                prop_assert_eq!(trial.diameters.len(), rows.len());
                for (index, (reading, (station, diameter, pass))) in trial.diameters.iter().zip(&rows).enumerate() {
                    prop_assert!((reading.station_mm - f64::from(*station) * 1e-3).abs() < 1e-8);
                    prop_assert!((reading.diameter_mm - f64::from(*diameter) * 1e-3).abs() < 1e-8);
                    prop_assert_eq!((reading.pass, reading.place.row), (*pass, index as u64 + 2));
                }
            }
            Err(rejected) => prop_assert!(rejected.findings.iter().all(|f| ["too-few-stations", "swapped-columns"].contains(&f.code) || !f.is_error()), "{:?}", rejected.findings),
        }
    }
}
