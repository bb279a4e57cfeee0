//! One log in every spelling that the contract names gives one trial.

use super::bench::{good, read_bytes, read_folder, readings};
use taperwright::ingest::{LogUnits, ReadOptions};
use taperwright::quantities::LengthUnit;
use taperwright::trial::{Direction, Trial};

const PLAIN: &str = "station_mm,diameter_mm,note\n10.5,38.012,dry\n110.5,38.018,Ø ok\n210.5,38.025,\n";

fn same(trial: &Trial, what: &str) {
    let wanted = [(10.5, 38.012, 1), (110.5, 38.018, 1), (210.5, 38.025, 1)];
    let got = readings(trial);
    assert_eq!(got.len(), wanted.len(), "{what}: {got:?}");
    for (got, wanted) in got.iter().zip(wanted) {
        assert!((got.0 - wanted.0).abs() < 1e-9 && (got.1 - wanted.1).abs() < 1e-9 && got.2 == wanted.2, "{what}: {got:?}, not {wanted:?}");
    }
}

#[test]
fn separators_decimal_marks_and_line_ends() {
    let tab = PLAIN.replace(',', "\t");
    let semicolon = PLAIN.replace(',', ";");
    let decimal_comma = semicolon.replace('.', ",");
    let quoted = "station_mm,diameter_mm\n\"10,5\",\"38,012\"\n\"110,5\",\"38,018\"\n\"210,5\",\"38,025\"\n";
    let blanks = "station_mm   diameter_mm note\n  10.5   38.012 dry as a bone\n110.5 38.018\n210.5\t38.025  \n";
    let untidy = "# a comment\n\n  station_mm , diameter_mm ,,\n10.5, 38.012,,\n\n# tea\n,,,\n110.5,38.018 ,,\n210.5,+38.025,,\n";
    let sep = format!("sep=;\n{semicolon}");
    for (what, text) in [
        ("comma", PLAIN),
        ("tab", &tab),
        ("semicolon", &semicolon),
        ("decimal comma", &decimal_comma),
        ("decimal comma, tab", &tab.replace('.', ",")),
        ("decimal comma in quotes", quoted),
        ("blanks", blanks),
        ("untidy", untidy),
        ("a line that names the separator", &sep),
        ("blanks with units apart", "station (mm)  diameter mm\n10.5 38.012\n110.5 38.018\n210.5 38.025\n"),
        ("title lines", "Quay Lathe 2, spring\nall in mm\n\nstation_mm,diameter_mm\n10.5,38.012\n110.5,38.018\n210.5,38.025\n"),
        ("the header again", "station_mm,diameter_mm\n10.5,38.012\nstation_mm,diameter_mm\n110.5,38.018\n210.5,38.025\n"),
        ("CRLF", &PLAIN.replace('\n', "\r\n")),
        ("CR", &PLAIN.replace('\n', "\r")),
        ("no end of the last line", PLAIN.trim_end()),
        ("all in quotes", &quote_all(PLAIN)),
        ("exponents", "station_mm,diameter_mm\n1.05e1,3.8012e1\n1.105E2,38.018\n210.5,38.025\n"),
        ("units in cells", "station_mm,diameter_mm\n10.5 mm,38.012mm\n110.5,38.018\n210.5,38.025\n"),
    ] {
        same(&good(text), what);
    }
}

fn quote_all(text: &str) -> String {
    text.lines().map(|line| line.split(',').map(|cell| format!("\"{cell}\"")).collect::<Vec<_>>().join(",") + "\n").collect()
}

#[test]
fn encodings() {
    let utf16 = |bytes: fn(u16) -> [u8; 2]| -> Vec<u8> { PLAIN.encode_utf16().flat_map(bytes).collect() };
    let little = utf16(u16::to_le_bytes);
    let big = utf16(u16::to_be_bytes);
    let latin: Vec<u8> = PLAIN.chars().map(|c| u8::try_from(u32::from(c)).expect("a Latin-1 letter")).collect();
    for (what, bytes) in [
        ("UTF-8", PLAIN.as_bytes().to_vec()),
        ("UTF-8 with its mark", [&[0xEF, 0xBB, 0xBF], PLAIN.as_bytes()].concat()),
        ("UTF-16 LE", [&[0xFF, 0xFE][..], &little].concat()),
        ("UTF-16 BE", [&[0xFE, 0xFF][..], &big].concat()),
        ("UTF-16 LE without mark", little.clone()),
        ("UTF-16 BE without mark", big.clone()),
        ("Latin-1", latin),
    ] {
        let trial = read_bytes(&bytes, &ReadOptions::default()).unwrap_or_else(|rejected| panic!("{what}: {:?}", rejected.findings));
        same(&trial, what);
        assert_eq!(trial.diameters.to_vec()[1].note.as_deref(), Some("Ø ok"), "{what}");
        assert_eq!(trial.inputs[0].bytes, bytes.len() as u64);
        assert_eq!(trial.diameters.to_vec()[2].place.row, 4, "{what}");
    }
}

#[test]
fn header_spellings_and_units() {
    // one inch is 25.4 mm exactly (international yard and pound agreement, 1959), a thou a thousandth of it
    for (header, station, diameter) in [
        ("station_mm,diameter_mm", 1.0, 1.0),
        ("Station (mm),Diameter (mm)", 1.0, 1.0),
        ("z_mm,dia_in", 1.0, 25.4),
        ("Z [in],D [thou]", 25.4, 0.0254),
        ("STN. (in.),Dia. [in]", 25.4, 25.4),
        ("station inch,diameter\"", 25.4, 25.4),
        ("station cm,Diameter µm", 10.0, 0.001),
        ("station_m,diameter_um", 1000.0, 0.001),
        ("Position {mil},Ø mm", 0.0254, 1.0),
        ("\"Station, mm\",\"Diameter, mm\"", 1.0, 1.0),
    ] {
        // a bar of some millimetres at least
        let read = if diameter < 0.1 { 2500.5 } else { 2.5 };
        let read = if diameter < 0.01 { read + 30_000.0 } else { read };
        let trial = good(&format!("{header}\n1.25,{read:.1}\n3.75,{read:.1}\n"));
        let first = trial.diameters.first().unwrap();
        assert!((first.station_mm - 1.25 * station).abs() < 1e-12 * station, "{header}: station {}", first.station_mm);
        assert!((first.diameter_mm - read * diameter).abs() < 1e-12 * read * diameter, "{header}: diameter {}", first.diameter_mm);
        assert!((trial.gauge.diameter.resolution_mm - 0.1 * diameter).abs() < 1e-12, "{header}: {}", trial.gauge.diameter.resolution_mm);
    }
}

#[test]
fn the_option_for_units_fills_only_headers_without_one() {
    let options = ReadOptions { log_units: Some(LogUnits::Inch), ..ReadOptions::default() };
    let trial = read_bytes(b"station,diameter_mm,depth\n1,38,0.002\n2,38,0.002\n", &options).expect("a good log");
    let first = trial.diameters.first().unwrap();
    assert!((first.station_mm - 25.4).abs() < 1e-12 && (first.diameter_mm - 38.0).abs() < 1e-12 && (first.depth_mm - 0.0508).abs() < 1e-12);
    let options = ReadOptions { log_units: Some(LogUnits::Millimetre), ..ReadOptions::default() };
    let trial = read_bytes(b"station;1;2\n1,5;38;38\n2;38,1;38\n", &options).expect("a good sheet");
    assert!((trial.diameters.to_vec()[0].station_mm - 1.5).abs() < 1e-12);
}

#[test]
fn a_wide_sheet_says_what_a_long_log_says() {
    let wide = good("Station (mm);pass 1 to-headstock;Pass 2 to tailstock (in);3\n10;38,1;1,5;38,0\n200;38,2;;38,1\n");
    let rows: Vec<(f64, u32, Direction)> = wide.diameters.iter().map(|r| (r.diameter_mm, r.pass, r.direction)).collect();
    let [to_headstock, to_tailstock] = [Direction::ToHeadstock, Direction::ToTailstock];
    let wanted =
        [(38.1, 1, to_headstock), (38.1, 2, to_tailstock), (38.0, 3, to_headstock), (38.2, 1, to_headstock), (38.1, 3, to_headstock)];
    assert_eq!(rows.len(), wanted.len());
    for (row, wanted) in rows.iter().zip(wanted) {
        assert!((row.0 - wanted.0).abs() < 1e-12 && (row.1, row.2) == (wanted.1, wanted.2), "{row:?}, not {wanted:?}");
    }
    assert_eq!((wide.inputs[0].rows, wide.inputs[0].used), (2, 2));
}

#[test]
fn a_split_log_is_read_in_name_order_as_one() {
    let log = |pass: u32| format!("pass,station_mm,diameter_mm\n{pass},10,38.01\n{pass},200,38.02\n");
    let (one, two, ten, monday) = (log(1), log(2), log(10), log(11));
    let files = [("diameters-10.csv", &*ten), ("Diameters.CSV", &one), ("diameters-monday.txt", &monday), ("diameters-2.tsv", &two)];
    let trial = read_folder(&files).unwrap_or_else(|rejected| panic!("{:?}", rejected.findings));
    let passes: Vec<u32> = trial.diameters.iter().map(|reading| reading.pass).collect();
    assert_eq!(passes, [1, 1, 2, 2, 10, 10, 11, 11]);
}

#[test]
fn times_cross_midnight_and_keep_offsets() {
    let minutes = |times: [&str; 3]| -> Vec<f64> {
        let [a, b, c] = times;
        let text = format!("pass,station_mm,diameter_mm,time\n1,10,38,{a}\n1,20,38,{b}\n1,30,38,{c}\n1,40,38,\n");
        let trial = good(&text);
        assert_eq!(trial.diameters.to_vec()[3].time_min, None);
        trial.diameters.iter().filter_map(|reading| reading.time_min).collect()
    };
    assert_eq!(minutes(["23:50", "23:58:30", "0:10"]), [0.0, 8.5, 20.0]);
    assert_eq!(minutes(["2026-03-14T09:30", "2026-03-14 09:31", "2026-03-15T09:30:00"]), [0.0, 1.0, 1440.0]);
    assert_eq!(minutes(["2026-03-14T09:30+01:00", "2026-03-14T09:30:00Z", "2026-03-14T09:30-01:00"]), [0.0, 60.0, 120.0]);
    assert_eq!(minutes(["9:40", "9:30", "9:35"]), [10.0, 0.0, 5.0]);
}

#[test]
fn words_are_forgiven_their_spelling() {
    let direction = |word: &str| good(&format!("station_mm,diameter_mm,direction\n10,38,{word}\n20,38,\n")).diameters.to_vec()[1].direction;
    for word in ["to-headstock", "To Headstock", "towards the headstock", "TO_HEADSTOCK", "headstock", "from tailstock"] {
        assert_eq!(direction(word), Direction::ToHeadstock, "{word}");
    }
    for word in ["to-tailstock", "toward tailstock", "To  Tailstock", "tailstock", "from-headstock"] {
        assert_eq!(direction(word), Direction::ToTailstock, "{word}");
    }
    let excluded = |word: &str| {
        good(&format!("station_mm,diameter_mm,exclude\n10,38,\n20,38,\n20,38,{word}\n")).diameters.to_vec()[2].excluded.is_some()
    };
    assert!(["yes", "x", "chip", "1"].into_iter().all(excluded));
    assert!(!["", "0", "no", "No", "FALSE", "FALSCH", "FAUX", "Falso"].into_iter().any(excluded));
    assert!(excluded("WAHR"));
}

#[test]
fn every_unit_of_roll_agrees() {
    // 0.02 mm/m is 4.125 seconds of arc; 0.0005 in in 10 in is 0.05 mm/m; 0.0005 in/ft is 0.041667 mm/m (arithmetic)
    for (column, cell, mm_per_m, tolerance) in [
        ("roll_mm_per_m", "0.02", 0.02, 1e-12),
        ("Roll (mm/m)", "0.02", 0.02, 1e-12),
        ("roll_arcsec", "4.125", 0.02, 2e-6),
        ("roll_in_per_10in", "0.0005", 0.05, 1e-12),
        ("Roll [in/10 in]", "0.0005", 0.05, 1e-12),
        ("roll_in_per_ft", "0.0005", 0.041_667, 5e-7),
        ("roll (\"/ft)", "0.0005", 0.041_667, 5e-7),
        ("roll_div", "2.5", 0.05, 1e-12),
    ] {
        let level = format!("station_mm,{column}\n-100,{cell}\n");
        let settings = "[gauge.level]\ndivision_mm_per_m = 0.02\n";
        let trial = read_folder(&[("trial.toml", settings), ("diameters.csv", PLAIN), ("levels.csv", &level)]);
        let trial = trial.unwrap_or_else(|rejected| panic!("{column}: {:?}", rejected.findings));
        assert!((trial.levels[0].roll_mm_per_m - mm_per_m).abs() < tolerance, "{column}: {}", trial.levels[0].roll_mm_per_m);
    }
}

#[test]
fn inch_twins_of_settings_are_exact() {
    let metric = "[trial]\nname = \"q\"\n[machine]\ncentre_height_mm = 127.0\n[machine.feet]\nspacing_along_mm = 508.0\nspacing_across_mm = 254.0\nscrew_pitch_mm = 1.5875\n\
        [bar]\ndiameter_mm = 38.1\nlength_mm = 254.0\ncollars_mm = [[12.7, 25.4], [228.6, 254.0]]\n[cutting]\nfeed_mm_per_rev = 0.0508\n\
        [gauge.level]\nu_mm_per_m = 0.5\n[conditions]\ntemperature_c = 25.0\ntemperature_spread_c = 5.0\n\
        [simulate]\nstations_mm = [12.7, 254.0]\nfeeds_mm_per_rev = [0.0254]\n";
    let inch = "[trial]\nname = \"q\"\n[machine]\ncentre_height_in = 5\n[machine.feet]\nspacing_along_in = 20\nspacing_across_in = 10\nscrew_threads_per_inch = 16\n\
        [bar]\ndiameter_in = 1.5\nlength_in = 10\ncollars_in = [[0.5, 1.0], [9.0, 10]]\n[cutting]\nfeed_in_per_rev = 0.002\n\
        [gauge.level]\nu_in_per_ft = 0.006\n[conditions]\ntemperature_f = 77\ntemperature_spread_f = 9.0\n\
        [simulate]\nstations_in = [0.5, 10.0]\nfeeds_in_per_rev = [0.001]\n";
    let log = "station_mm,diameter_mm\n20,38.1\n240,38.1\n";
    let [metric, inch] = [metric, inch].map(|settings| {
        let trial = read_folder(&[("trial.toml", settings), ("diameters.csv", log)]).expect("good settings");
        serde_json::to_value(trial).expect("a trial as JSON")
    });
    nearly("", &metric, &inch).unwrap_or_else(|difference| panic!("{difference}"));
    let mut perturbed = inch.clone();
    perturbed["bar"]["diameter_mm"] = serde_json::json!(38.1 * (1.0 + 1e-9));
    assert!(nearly("", &metric, &perturbed).is_err(), "the comparison must see a difference");
}

/// Whether two JSON values agree, numbers to a part in 10¹².
fn nearly(at: &str, a: &serde_json::Value, b: &serde_json::Value) -> Result<(), String> {
    use serde_json::Value;
    match (a, b) {
        (Value::Number(x), Value::Number(y)) => {
            let (x, y) = (x.as_f64().unwrap_or(0.0), y.as_f64().unwrap_or(1.0));
            if (x - y).abs() <= 1e-12 * x.abs() { Ok(()) } else { Err(format!("{at}: {x} and {y}")) }
        }
        (Value::Array(x), Value::Array(y)) if x.len() == y.len() => {
            x.iter().zip(y).enumerate().try_for_each(|(index, (x, y))| nearly(&format!("{at}[{index}]"), x, y))
        }
        (Value::Object(x), Value::Object(y)) if x.len() == y.len() => {
            x.iter().try_for_each(|(key, value)| nearly(&format!("{at}.{key}"), value, y.get(key).unwrap_or(&Value::Null)))
        }
        _ if a == b => Ok(()),
        _ => Err(format!("{at}: {a} and {b}")),
    }
}

#[test]
fn thou_is_a_thousandth_of_an_inch() {
    assert!((LengthUnit::Thou.mm() * 1000.0 - LengthUnit::Inch.mm()).abs() < 1e-15);
}
