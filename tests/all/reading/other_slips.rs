//! Slips in levels, indicator runs and clamp logs, in times of cutting and in temperatures: told, and honest logs near to them are read without a word.

use super::bench::{finding, good, read_folder};
use crate::made::trial;
use taperwright::analysis::{Options, analyse};
use taperwright::findings::{Finding, Severity};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::report::{PageOptions, Units, page_html};
use taperwright::simulate::simulate;
use taperwright::trial::{Direction, Holding, SimulationRequest, Trial, Truth};

const CODES: [&str; 7] =
    ["unlikely-value", "digit-slip", "swapped-columns", "short-length", "times-out-of-order", "long-pass", "unlike-temperature"];
const DIAMETERS: &str = "station_mm,diameter_mm\n20,38.001\n60,38.006\n100,38.010\n140,38.014\n180,38.019\n";

/// A trial with one log beside its diameters, by a level to 0.008 mm/m.
fn beside(name: &str, log: &str) -> Trial {
    let settings = ("trial.toml", "[gauge.level]\nu_mm_per_m = 0.008\n");
    read_folder(&[settings, ("diameters.csv", DIAMETERS), (name, log)]).unwrap_or_else(|rejected| panic!("{log}: {rejected:?}"))
}

fn told(trial: &Trial) -> Vec<&Finding> {
    trial.findings.iter().filter(|found| CODES.contains(&found.code)).collect()
}

/// The one slip of a trial: a warning of that code at that row and column whose text has all parts.
fn says(trial: &Trial, code: &str, row: u64, column: &str, parts: &[&str]) -> Result<(), String> {
    let told = told(trial);
    let [found] = told.as_slice() else { return Err(format!("not one finding: {told:#?}")) };
    let text = format!("{} {}", found.found, found.help);
    let whole = found.code == code
        && found.severity == Severity::Warning
        && found.row == Some(row)
        && found.column.as_deref() == Some(column)
        && parts.iter().all(|part| text.contains(part));
    if whole { Ok(()) } else { Err(format!("{found:#?}")) }
}

fn levels(header: &str, rolls: &[(f64, f64, f64)]) -> Trial {
    let rows = rolls.iter().map(|(station, one, other)| format!("{station},{one},no\n{station},{other},yes\n"));
    beside("levels.csv", &format!("station_mm,{header},reversed\n{}", rows.collect::<String>()))
}

const ROLLS: [(f64, f64, f64); 6] = [
    (40.0, 0.057, -0.005),
    (120.0, 0.095, 0.039),
    (200.0, 0.134, 0.069),
    (280.0, 0.177, 0.113),
    (360.0, 0.204, 0.169),
    (440.0, 0.245, 0.188),
];

fn times(factor: f64) -> [(f64, f64, f64); 6] {
    ROLLS.map(|(station, one, other)| (station, factor * one, factor * other))
}

fn with(place: usize, roll: f64) -> [(f64, f64, f64); 6] {
    let mut rolls = ROLLS;
    rolls[place].1 = roll;
    rolls
}

#[test]
fn rolls_in_another_unit_are_asked_about() {
    assert_eq!(told(&levels("roll_mm_per_m", &ROLLS)), Vec::<&Finding>::new());
    says(
        &levels("roll_um_per_m", &ROLLS),
        "unlikely-value",
        2,
        "roll_um_per_m",
        &["at most 0.245", "0.008 mm/m", "is it in mm/m?", "write 0"],
    )
    .unwrap();
    says(&levels("roll_mm_per_m", &times(1e-3)), "unlikely-value", 2, "roll_mm_per_m", &["at most 0.000245", "in m/m?"]).unwrap();
    let steep = levels("roll_mm_per_m", &times(1000.0));
    says(&steep, "unlikely-value", 2, "roll_mm_per_m", &["`57`, 3.3°", "11 rows", "in µm/m? Then write 0.057", "nothing is to be mended"])
        .unwrap();
    assert!(says(&steep, "unlikely-value", 3, "roll_mm_per_m", &[]).is_err(), "the comparison must see");
    let inches = beside("levels.csv", "station_in,roll_in_per_ft\n0,-0.2\n8,-0.5\n16,-0.7\n");
    says(&inches, "unlikely-value", 2, "roll_in_per_ft", &["`-0.2`", "thousandths of an inch a foot? Then write -0.0002"]).unwrap();
    // what is level within what the level shows, a bed before it is levelled, a fine level
    for (header, rolls) in
        [("roll_mm_per_m", [0.0, 0.0, 0.0]), ("roll_mm_per_m", [0.001, 0.0, -0.001]), ("roll_mm_per_m", [4.9, 4.93, 4.97])]
    {
        let rolls: Vec<_> = rolls.iter().zip([0.0, 200.0, 400.0]).map(|(roll, station)| (station, *roll, *roll)).collect();
        assert_eq!(told(&levels(header, &rolls)), Vec::<&Finding>::new(), "{rolls:?}");
    }
    // a floor that leans, with a second level on the headstock
    let leans = "station_mm,roll_mm_per_m,reference_roll_mm_per_m\n0,12.02,12\n200,12.04,12\n400,12.06,12\n";
    assert_eq!(told(&beside("levels.csv", leans)), Vec::<&Finding>::new());
    let fine = read_folder(&[
        ("trial.toml", "[gauge.level]\nu_mm_per_m = 0.0002\n"),
        ("diameters.csv", DIAMETERS),
        ("levels.csv", "station_mm,roll_um_per_m\n0,0.2\n200,0.3\n400,0.1\n"),
    ]);
    assert_eq!(told(&fine.expect("a trial")), Vec::<&Finding>::new());
}

#[test]
fn one_roll_among_those_along_the_bed_is_told() {
    for (place, roll, parts) in [
        (1, 0.95, ["`0.95` where the places beside it say about 0.096", ": 0.095"]),
        (0, 0.57, ["`0.57`", ": 0.057"]),
        (5, 24.5, ["`24.5`", ": 0.245"]),
        (2, -0.134, ["a minus sign", ": 0.134"]),
    ] {
        let trial = levels("roll_mm_per_m", &with(place, roll));
        says(&trial, "digit-slip", 2 + 2 * place as u64, "roll_mm_per_m", &[&parts[..], &["if it was read so"]].concat()).unwrap();
    }
    // a worn place reads so both ways; three places tell nothing; a bent bed is smooth
    let mut worn = with(1, 0.95);
    worn[1].2 = 0.89;
    let bent: Vec<_> = ROLLS.iter().map(|(z, ..)| (*z, 2e-6 * (z - 240.0).powi(2), 2e-6 * (z - 240.0).powi(2) - 0.06)).collect();
    for honest in [&worn[..], &with(1, 0.95)[..3], &bent] {
        assert_eq!(told(&levels("roll_mm_per_m", honest)), Vec::<&Finding>::new(), "{honest:?}");
    }
}

#[test]
fn exchanged_columns_and_stations_in_another_unit_are_told() {
    let swapped = beside("levels.csv", "station_mm,roll_mm_per_m\n0.02,0\n0.04,200\n0.06,400\n");
    says(&swapped, "swapped-columns", 2, "station_mm", &["up to 400", "station and roll look swapped"]).unwrap();
    let swapped = beside("indicator.csv", "station_mm,reading_mm\n0.0031,10\n-0.0011,110\n-0.0085,208\n");
    says(&swapped, "swapped-columns", 2, "station_mm", &["up to 208", "station and reading look swapped"]).unwrap();
    let swapped = beside("clamp.csv", "foot,station_mm,change_mm\nheadstock front,0.003,200\ntailstock front,0.01,200\n");
    says(&swapped, "swapped-columns", 2, "station_mm", &["up to 200", "station and change look swapped"]).unwrap();
    let inches = beside("levels.csv", "station_mm,roll_mm_per_m\n1.5,0.05\n8,0.1\n17,0.2\n");
    says(&inches, "short-length", 2, "station_mm", &["from 1.5 to 17 mm", "their unit is another"]).unwrap();
    let inches = beside("indicator.csv", "station_mm,reading_mm\n0.4,0.001\n8.2,0.004\n");
    says(&inches, "short-length", 2, "station_mm", &["from 0.4 to 8.2 mm"]).unwrap();
    for (name, honest) in [
        ("levels.csv", "station_mm,roll_mm_per_m\n0,0.02\n0,0.021\n"),
        ("levels.csv", "station_mm,roll_mm_per_m\n-4,0.02\n200,0.04\n"),
        ("indicator.csv", "station_mm,reading_mm\n0,3.502\n100,3.504\n"),
        ("indicator.csv", "station_mm,reading_mm\n2,8.502\n"),
    ] {
        assert_eq!(told(&beside(name, honest)), Vec::<&Finding>::new(), "{honest}");
    }
}

#[test]
fn a_dial_that_moves_by_millimetres_is_asked_about() {
    let dial = |unit: &str, read: [f64; 5]| {
        let rows = read.iter().zip([20, 60, 100, 140, 180]).map(|(read, station)| format!("{station},{read},0\n"));
        beside("indicator.csv", &format!("station_mm,reading_{unit},spindle_deg\n{}", rows.collect::<String>()))
    };
    says(&dial("mm", [0.0, 5.0, 10.0, 15.0, 20.0]), "unlikely-value", 6, "reading_mm", &["`20`", "20 mm apart", "in µm? Then it is 0.02"])
        .unwrap();
    says(
        &dial("in", [0.0, 0.1, 0.2, 0.3, 0.4]),
        "unlikely-value",
        6,
        "reading_in",
        &["`0.4`", "thousandths of an inch? Then it is 0.0004"],
    )
    .unwrap();
    says(&dial("um", [0.001, 0.002, 0.004, 0.004, 0.005]), "unlikely-value", 2, "reading_um", &["at most 0.005", "in mm?", "0.001 mm"])
        .unwrap();
    says(&dial("mm", [0.013, 0.15, 0.017, 0.019, 0.021]), "digit-slip", 3, "reading_mm", &["`0.15`", "about 0.015", ": 0.015"]).unwrap();
    // a dial may stand anywhere; its bar may be bent and run out
    for honest in [[3.502, 3.504, 3.507, 3.509, 3.512], [0.0, 0.25, 0.5, 0.75, 1.0], [0.0, 0.002, 0.012, 0.002, 0.0], [0.0; 5]] {
        assert_eq!(told(&dial("mm", honest)), Vec::<&Finding>::new(), "{honest:?}");
    }
    let out = "station_mm,reading_mm,spindle_deg\n20,0,0\n180,0.01,0\n20,1.4,180\n180,1.41,180\n";
    assert_eq!(told(&beside("indicator.csv", out)), Vec::<&Finding>::new(), "a bar that runs out");
    // a dent in the bar shows on both sides
    let dent = |other: f64| {
        let rows = [(20, 0.012, 0.002), (60, 0.15, other), (100, 0.016, 0.006), (140, 0.018, 0.008), (180, 0.020, 0.010)];
        let rows = rows.map(|(z, one, other)| format!("{z},{one},0\n{z},{other},180\n"));
        beside("indicator.csv", &format!("station_mm,reading_mm,spindle_deg\n{}", rows.concat()))
    };
    says(&dent(0.004), "digit-slip", 4, "reading_mm", &["`0.15`"]).unwrap();
    assert_eq!(told(&dent(0.14)), Vec::<&Finding>::new());
}

#[test]
fn a_nut_that_moves_a_lathe_by_millimetres_is_asked_about() {
    let clamp = |unit: &str, changes: [[f64; 2]; 4]| {
        let feet = ["headstock-front", "headstock-rear", "tailstock-front", "tailstock-rear"];
        let rows = feet.iter().zip(changes).map(|(foot, [near, far])| format!("{foot},10,{near}\n{foot},208,{far}\n"));
        beside("clamp.csv", &format!("foot,station_mm,change_{unit}\n{}", rows.collect::<String>()))
    };
    let good = [[0.0037, 0.0101], [0.0020, 0.0079], [0.0040, 0.0098], [0.0040, 0.0096]];
    let times = |factor: f64| good.map(|changes| changes.map(|change| factor * change));
    assert_eq!(told(&clamp("mm", good)), Vec::<&Finding>::new());
    says(&clamp("mm", times(1000.0)), "unlikely-value", 2, "change_mm", &["`3.7`", "in µm? Then it is 0.0037"]).unwrap();
    says(&clamp("thou", times(-20_000.0)), "unlikely-value", 2, "change_thou", &["`-74`", "one nut"]).unwrap();
    says(&clamp("um", good), "unlikely-value", 2, "change_um", &["in mm?"]).unwrap();
    let one = |near: f64, far: f64| [good[0], good[1], [near, far], good[3]];
    says(&clamp("mm", one(0.04, 0.0098)), "digit-slip", 6, "change_mm", &["`0.04`", ": 0.004"]).unwrap();
    says(&clamp("mm", one(0.004, 0.98)), "digit-slip", 7, "change_mm", &["`0.98`", ": 0.0098"]).unwrap();
    // a foot that stood hollow moves the headstock, and may twist the bed the other way
    for honest in [one(0.3, 0.31), one(0.02, -0.02), one(0.011, 0.0098), one(0.9, 0.95), one(0.0, 0.0)] {
        assert_eq!(told(&clamp("mm", honest)), Vec::<&Finding>::new(), "{honest:?}");
    }
}

/// A pass from 180 to 20 mm whose times are these, below one in the morning.
fn timed(times: [&str; 5]) -> Trial {
    let rows = |pass: u32, times: [&str; 5]| {
        let rows = [180, 140, 100, 60, 20].into_iter().zip([38.019, 38.014, 38.010, 38.006, 38.001]).zip(times);
        rows.map(|((z, read), time)| format!("{pass},{z},{},{time}\n", read - 0.1 * f64::from(pass))).collect::<String>()
    };
    let first = rows(1, ["11:00", "11:05", "11:10", "11:15", "11:20"]);
    good(&format!("pass,station_mm,diameter_mm,time\n{first}{}", rows(2, times)))
}

fn minutes(trial: &Trial) -> Vec<f64> {
    trial.diameters.iter().skip(5).filter_map(|reading| reading.time_min).collect()
}

#[test]
fn a_clock_of_twelve_hours_is_read_on_into_the_afternoon() {
    let plain = timed(["12:45", "12:50", "12:55", "13:00", "13:05"]);
    assert_eq!(told(&plain), Vec::<&Finding>::new());
    assert_eq!(minutes(&plain), [105.0, 110.0, 115.0, 120.0, 125.0]);
    let by_twelve = timed(["12:45", "12:50", "12:55", "1:00", "1:05"]);
    says(&by_twelve, "times-out-of-order", 10, "time", &["1:00 after 12:55 in pass 2", "read as 13:00", "write the date"]).unwrap();
    assert_eq!(minutes(&by_twelve), minutes(&plain));
    // rows below it are of that afternoon too
    let text = "pass,station_mm,diameter_mm,time\n1,180,38.1,12:50\n1,100,38.1,12:55\n1,20,38.1,1:00\n2,180,38,1:20\n2,100,38,1:25\n2,20,38,1:30\n";
    let later = good(text);
    assert_eq!(told(&later).len(), 1);
    assert_eq!(later.diameters.iter().filter_map(|reading| reading.time_min).collect::<Vec<_>>(), [0.0, 5.0, 10.0, 30.0, 35.0, 40.0]);
    // a pass below that is in order as it stands is left alone, and one that passes one o'clock is mended by itself
    let two = |times: [&str; 5]| {
        let rows = |pass: u32, times: [&str; 5]| -> String {
            let rows = [180.0, 140.0, 100.0, 60.0, 20.0].iter().zip(times);
            rows.map(|(z, time)| format!("{pass},{z},{},{time}\n", 38.0 - 0.1 * f64::from(pass))).collect()
        };
        good(&format!("pass,station_mm,diameter_mm,time\n{}{}", rows(1, ["12:45", "12:50", "12:55", "1:00", "1:05"]), rows(2, times)))
    };
    for (times, lasts, findings) in [
        (["12:40", "12:45", "12:50", "12:55", "1:00"], 20.0, 2),
        (["12:35", "12:40", "12:45", "12:50", "12:55"], 20.0, 1),
        (["11:50", "12:05", "12:20", "12:35", "12:50"], 60.0, 1),
        (["1:10", "1:15", "1:20", "1:25", "1:30"], 20.0, 1),
    ] {
        let trial = two(times);
        let second = minutes(&trial);
        assert_eq!((second[4] - second[0], told(&trial).len()), (lasts, findings), "{times:?}: {second:?}");
    }
    // who writes 13:30 elsewhere knows the afternoon, and who writes the date the day: they are asked, nothing is moved
    let asked = timed(["12:50", "12:55", "1:00", "13:05", "13:10"]);
    says(&asked, "times-out-of-order", 9, "time", &["1:00 in pass 2", "perhaps 13:00", "used as logged"]).unwrap();
    let dated =
        "station_mm,diameter_mm,time\n180,38,2026-03-14 12:50\n140,38,2026-03-14 12:55\n100,38,2026-03-14 01:00\n20,38,2026-03-14 01:05\n";
    says(&good(dated), "times-out-of-order", 4, "time", &["1:00 in pass 1", "perhaps 13:00"]).unwrap();
    let next_day = timed(["13:25", "13:30", "1:35", "1:40", "1:45"]);
    says(&next_day, "times-out-of-order", 9, "time", &["1:35 in pass 2", "perhaps 13:35"]).unwrap();
}

#[test]
fn a_time_out_of_order_is_told() {
    says(
        &timed(["12:00", "12:05", "10:10", "12:15", "12:20"]),
        "times-out-of-order",
        9,
        "time",
        &["10:10", "12:05 and 12:15", "perhaps 12:10"],
    )
    .unwrap();
    says(&timed(["12:45", "12:50", "21:55", "13:00", "13:05"]), "times-out-of-order", 9, "time", &["21:55", "perhaps 12:55"]).unwrap();
    says(&timed(["12:45", "12:50", "12:55", "13:00", "12:05"]), "times-out-of-order", 11, "time", &["12:05", "perhaps 13:05"]).unwrap();
    says(&timed(["12:00", "9:05", "12:10", "9:15", "12:20"]), "times-out-of-order", 9, "time", &["12:10 below 9:05", "3 h 15 min"])
        .unwrap();
    says(&timed(["9:00", "9:05", "15:30", "15:35", "15:40"]), "long-pass", 9, "time", &["15:30", "lasts 6 h 40 min", "measured_at"])
        .unwrap();
    for honest in [
        ["12:00", "12:05", "12:10", "12:15", "12:20"],
        // sorted by station after the cut, which went the other way; the time of the pass; past midnight, either way
        ["12:20", "12:15", "12:10", "12:05", "12:00"],
        ["12:00"; 5],
        ["23:50", "23:55", "0:00", "0:05", "0:10"],
        ["0:10", "0:05", "0:00", "23:55", "23:50"],
        // two rows exchanged, a few minutes off, a coffee
        ["12:00", "12:10", "12:05", "12:15", "12:20"],
        ["12:00", "12:05", "13:40", "13:45", "13:50"],
        ["12:00", "", "", "", "12:20"],
    ] {
        assert_eq!(told(&timed(honest)), Vec::<&Finding>::new(), "{honest:?}");
    }
    assert_eq!(minutes(&timed(["0:10", "0:05", "0:00", "23:55", "23:50"])), [790.0, 785.0, 780.0, 775.0, 770.0]);
    // rows in no order, and each station read again at another angle
    let shuffled = "station_mm,diameter_mm,time\n100,38,12:10\n20,38,12:20\n180,38,12:00\n60,38,12:15\n140,38,12:05\n";
    let angles = "station_mm,diameter_mm,time,angle_deg\n20,38,12:00,0\n20,38,12:38,90\n60,38,12:05,0\n60,38,12:33,90\n100,38,12:10,0\n100,38,12:28,90\n\
                  140,38,12:15,0\n140,38,12:23,90\n";
    for honest in [shuffled, angles] {
        assert_eq!(told(&good(honest)), Vec::<&Finding>::new(), "{honest}");
    }
}

#[test]
fn a_temperature_unlike_those_of_its_pass_is_told() {
    let log = |header: &str, celsius: &[&str]| {
        let rows = celsius.iter().zip([20, 60, 100, 140, 180]).map(|(celsius, station)| format!("{station},38,{celsius}\n"));
        good(&format!("station_mm,diameter_mm,{header}\n{}", rows.collect::<String>()))
    };
    let celsius = |row: &[&str]| log("temperature_c", row);
    let of = |row, trial: &Trial, parts: &[&str]| says(trial, "unlike-temperature", row, "temperature_c", parts);
    of(6, &celsius(&["20.5", "20.6", "20.6", "20.7", "68.8"]), &["`68.8`", "near 20.6", "in °F? Then write 20.4"]).unwrap();
    of(4, &celsius(&["20.5", "20.6", "2.06", "20.7", "20.8"]), &["`2.06`", "digit: 20.6"]).unwrap();
    of(3, &celsius(&["20.5", "41", "20.7"]), &["`41`", "perhaps a slip;"]).unwrap();
    let fahrenheit = log("temperature_f", &["68.5", "68.6", "20.4", "68.7", "68.8"]);
    says(&fahrenheit, "unlike-temperature", 4, "temperature_f", &["`20.4`", "near 68.6", "in °C? Then write 68.7"]).unwrap();
    // warm from the cut at one end, at the jaws, two readings that nobody can tell apart, an excluded one
    for honest in [
        &["20.5", "21", "23", "27", "35"][..],
        &["38", "24", "21.5", "20.5", "20.3"],
        &["20.5", "68.8"],
        &["20.5", "20.6", "30.4", "20.6", "20.7"],
        &["20.5", "", "20.6", "20.7", "20.8"],
        &["35", "35", "35", "35", "20"],
    ] {
        assert_eq!(told(&celsius(honest)), Vec::<&Finding>::new(), "{honest:?}");
    }
    assert_eq!(told(&log("temperature_c,exclude", &["20.5,", "20.6,", "68.8,by hand", "20.7,", "20.8,"])), Vec::<&Finding>::new());
}

#[test]
fn the_page_shows_each_of_them() {
    for (trial, code) in [
        (levels("roll_um_per_m", &ROLLS), "unlikely-value"),
        (levels("roll_mm_per_m", &with(1, 0.95)), "digit-slip"),
        (beside("levels.csv", "station_mm,roll_mm_per_m\n0.02,0\n0.04,200\n0.06,400\n"), "swapped-columns"),
        (beside("levels.csv", "station_mm,roll_mm_per_m\n1.5,0.05\n17,0.2\n"), "short-length"),
        (timed(["12:45", "12:50", "12:55", "1:00", "1:05"]), "times-out-of-order"),
        (timed(["9:00", "9:05", "15:30", "15:35", "15:40"]), "long-pass"),
        (good("station_mm,diameter_mm,temperature_c\n20,38,20\n60,38,20\n100,38,68\n140,38,20\n"), "unlike-temperature"),
    ] {
        let found = finding(&trial.findings, code).clone();
        let analysis = analyse(trial, Options { seed: 1, monte_carlo_draws: 1000 });
        let page = page_html(&analysis, &PageOptions { units: Units::Millimetre }).expect("a page");
        let document = scraper::Html::parse_document(&page);
        let inputs = scraper::Selector::parse("#inputs").expect("a selector");
        let text: String = document.select(&inputs).flat_map(|element| element.text()).collect();
        let file = found.file.as_deref().expect("a file");
        assert!(text.contains(file) && text.contains(found.help.split(';').next().expect("a help")), "{code}: {found:?} in {text}");
    }
}

#[test]
fn samples_and_simulated_logs_raise_no_alarm() {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data");
    let mut folders: Vec<_> = std::fs::read_dir(&root).expect("a folder").map(|entry| entry.expect("an entry").path()).collect();
    folders.extend(std::fs::read_dir(root.join("quay-lathe-2-years")).expect("a folder").map(|entry| entry.expect("an entry").path()));
    folders.retain(|folder| folder.join("trial.toml").is_file());
    assert!(folders.len() > 20, "{folders:?}");
    for folder in folders {
        let trial = read_trial(&folder, &ReadOptions::default()).expect("a sample");
        assert_eq!(told(&trial), Vec::<&Finding>::new(), "{}", folder.display());
    }
    for seed in 0..40_u32 {
        let size = f64::from(seed % 8);
        let sign = if seed % 2 == 0 { 1.0 } else { -1.0 };
        let mut lathe = trial(Holding::Chuck);
        lathe.simulate = Some(SimulationRequest {
            logs: ["diameters", "levels", "indicator", "clamp"].map(String::from).to_vec(),
            directions: vec![Direction::ToHeadstock],
            level_stations_mm: (0..4 + seed % 8).map(|place| 30.0 + 60.0 * f64::from(place)).collect(),
            levels_reversed: seed % 3 > 0,
            truth: Truth {
                yaw_mm_per_m: Some(0.03 * size * sign),
                twist_mm_per_m_per_m: Some(0.15 * size * sign),
                free_twist_mm_per_m_per_m: Some(0.05 * size),
                way_wear_um: Some(5.0 * size),
                level_zero_mm_per_m: Some(0.02 * size),
                run_out_mm: Some(0.01 * size),
                ..Truth::default()
            },
            ..SimulationRequest::default()
        });
        let logs = simulate(&lathe, u64::from(seed)).expect("logs");
        let files: Vec<(&str, &str)> = logs.files.iter().map(|file| (file.name.as_str(), file.text.as_str())).collect();
        let read = read_folder(&files).unwrap_or_else(|rejected| panic!("{seed}: {rejected:?}"));
        assert!(!read.levels.is_empty() && !read.clamp.is_empty() && !read.indicator.is_empty());
        assert_eq!(told(&read), Vec::<&Finding>::new(), "{seed}");
    }
}
