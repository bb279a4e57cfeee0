//! Logs that can be read and mean something else: words in a header, commas, thousands, tables, sizes.

use super::bench::{finding, good, read_bytes, read_folder};
use taperwright::findings::{Finding, Severity};
use taperwright::ingest::ReadOptions;

fn faults(text: &str) -> Vec<Finding> {
    read_bytes(text.as_bytes(), &ReadOptions::default()).err().map(|rejected| rejected.findings).unwrap_or_default()
}

/// The finding of that code of a log that is rejected.
fn fault(text: &str, code: &str) -> Finding {
    finding(&faults(text), code).clone()
}

const ROWS: &str = "10,38.021\n190,38.034\n";

#[test]
fn words_in_a_header_that_change_the_meaning_are_refused() {
    let diameters = |header: &str, cell: &str| format!("{header}\n10,38.021{cell}\n190,38.034{cell}\n");
    for (text, word, right) in [
        (diameters("Station from tailstock (mm),diameter_mm", ""), "`tailstock`", "200 − 10 = 190"),
        (diameters("distance from tailstock end mm,diameter mm", ""), "`tailstock`", "headstock end"),
        (diameters("station_mm,Diameter deviation (mm)", ""), "`deviation`", "add the nominal"),
        (diameters("station_mm,diameter_mm [deviation from 38]", ""), "deviation", "add the nominal"),
        (diameters("station_mm,Diameter at chuck end (mm)", ""), "`at chuck end`", "the diameter read there"),
        (diameters("station_mm,diameter_mm,Depth on diameter (mm)", ",0.1"), "`diameter`", "half"),
        (diameters("station_mm,diameter_mm,Depth (mm on diameter)", ",0.1"), "`diameter`", "half"),
        (diameters("station_mm,diameter_mm,Temperature of the room (°C)", ",20"), "`room`", "temperature_c"),
        (diameters("station_mm,pass 1 front (mm)", ""), "`front`", "`pass 1 to-headstock (mm)`"),
    ] {
        let found = fault(&text, "words-in-header");
        assert!(found.found.contains(word) && found.help.contains(right) && found.row == Some(1), "{text}: {found:?}");
    }
    let log = ("diameters.csv", &*format!("station_mm,diameter_mm\n{ROWS}"));
    for (file, text, right) in [
        ("levels.csv", "station_mm,roll front high positive (mm/m)\n10,0.1\n", "turn the sign"),
        ("levels.csv", "station_mm,\"level, front high positive (mm/m)\"\n10,0.1\n", "turn the sign"),
        ("levels.csv", "station_mm,level (front high) mm/m\n10,0.1\n", "turn the sign"),
        ("indicator.csv", "station_mm,dial plunger out + (mm)\n10,0.1\n", "pushed in"),
        ("indicator.csv", "station_mm,dial plunger in = - (mm)\n10,0.1\n", "pushed in"),
        ("levels.csv", "station_mm,roll (rear high = -) mm/m\n10,0.1\n", "turn the sign of each; then write `roll_mm_per_m`"),
        ("levels.csv", "station_mm,roll (0.02 mm/m)\n10,0.1\n", "head them `roll_div`"),
        ("indicator.csv", "station_mm,Indicator reading (0.01 mm)\n10,0.1\n", "multiply each by it"),
    ] {
        let rejected = read_folder(&[log, (file, text)]).expect_err(text);
        let found = finding(&rejected.findings, "words-in-header");
        assert!(found.help.contains(right), "{text}: {found:?}");
    }
}

#[test]
fn words_in_a_header_that_change_nothing_are_passed_over() {
    for header in [
        "Station from chuck face (mm),measured diameter (mm)",
        "Distance along the bar (mm),Diameter of the bar (mm)",
        "position of reading mm,Diameter value (mm)",
        "station (mm),Diameter in (mm)",
        "station z [mm],Diameter (Ø) (mm)",
        "Station from headstock end (mm),Diameter after cut (mm)",
        "distance from the end at the chuck mm,dia mean mm",
        "Distance from chuck jaws (mm),dia avg mm",
        "distance from front of jaws (mm),Diameter (mm) mean",
        "Station in mm,Diameter in mm",
        "Station (in mm),Diameter (in mm)",
        "Station no. (mm),Diameter - mm",
        "station (mm),Pass 1 (after cut) mm",
    ] {
        let trial = good(&format!("{header}\n{ROWS}"));
        let first = trial.diameters.first().expect("a reading");
        assert!((first.station_mm - 10.0).abs() < 1e-12 && (first.read_mm - 38.021).abs() < 1e-12, "{header}: {first:?}");
    }
    let log = ("diameters.csv", &*format!("station_mm,diameter_mm\n{ROWS}"));
    let levels = ("levels.csv", "station_mm,\"roll, rear high is positive (mm/m)\"\n10,0.1\n");
    let indicator = ("indicator.csv", "station_mm,dial plunger in + (mm)\n10,0.1\n");
    let trial = read_folder(&[log, levels, indicator]).expect("a trial");
    assert!((trial.levels[0].roll_mm_per_m - 0.1).abs() < 1e-12 && (trial.indicator[0].reading_mm - 0.1).abs() < 1e-12);
}

/// A bar has two ends, a running number is no length, and a number beside the unit may be a step: each is refused, and the header to write is named.
#[test]
fn headers_that_leave_the_meaning_open_are_refused() {
    for (header, word, right) in [
        ("Station from end (mm),diameter_mm", "`end`", "if these do write `station_mm`; if they count from the free end"),
        ("distance from bar end mm,diameter_mm", "`end`", "200 − 10 = 190"),
        ("Station from left (mm),diameter_mm", "`left`", "front of the chuck’s jaws"),
        ("Station from left end (in),diameter_mm", "`left end`", "write `station_in`"),
        ("Station from free end (mm),diameter_mm", "`free end`", "200 − 10 = 190; then write `station_mm`"),
        ("Distance from face (mm),diameter_mm", "`face`", "from which end?"),
        ("station from the end of the bed mm,diameter_mm", "`end`", "from which end?"),
        ("Station no.,diameter_mm", "`no`", "a running number is no length"),
        ("Station #,diameter_mm", "`no`", "under `station_mm`"),
        ("station_mm,Diameter (mm) ± 0.002", "`0.002`", "uncertainty state it"),
        ("station_mm,Diameter mm +/-0.002", "`0.002`", "uncertainty state it"),
        ("station_mm,Diameter over nominal (µm)", "`over nominal`", "then write `diameter_um`"),
    ] {
        let found = fault(&format!("{header}\n{ROWS}"), "words-in-header");
        assert!(found.found.contains(word) && found.help.contains(right) && found.row == Some(1), "{header}: {found:?}");
    }
    // the option for units does not make a length of it
    let options = ReadOptions { log_units: Some(taperwright::trial::LogUnits::Millimetre), ..ReadOptions::default() };
    let numbered = read_bytes(format!("Station no.,diameter\n{ROWS}").as_bytes(), &options).expect_err("numbers");
    finding(&numbered.findings, "words-in-header");
    assert!((good(&format!("station_mm,Diameter in\n{ROWS}")).diameters.to_vec()[0].read_mm - 38.021 * 25.4).abs() < 1e-9);
    for (column, code, right) in [
        ("exclude (1 = keep)", "words-in-header", "takes the reading out"),
        ("direction (of return)", "words-in-header", "the way of the tool as it cuts"),
        ("pass (mm)", "unknown-unit", "counts, without a unit"),
        ("repeat (deg)", "unknown-unit", "counts, without a unit"),
    ] {
        let found = fault(&format!("station_mm,diameter_mm,{column}\n10,38.021,1\n190,38.034,1\n"), code);
        assert!(found.help.contains(right), "{column}: {found:?}");
    }
    for column in
        ["pass (n)", "setting (0 = as found)", "angle (deg)", "note (free)", "operator (initials)", "exclude (reason)", "repeat (no.)"]
    {
        let cell = if column.starts_with("exclude") { "" } else { "1" };
        let trial = good(&format!("station_mm,diameter_mm,{column}\n10,38.021,{cell}\n190,38.034,{cell}\n"));
        assert!(trial.findings.iter().all(|found| found.code != "unread-column"), "{column}: {:?}", trial.findings);
    }
    let log = ("diameters.csv", &*format!("station_mm,diameter_mm\n{ROWS}"));
    read_folder(&[log, ("indicator.csv", "station_mm,reading_mm,spindle (deg)\n10,0.1,180\n")]).expect("degrees of the spindle");
    let loosened = "foot (loosened),station_mm,change_mm\nheadstock-front,100,0.01\n";
    let rejected = read_folder(&[log, ("clamp.csv", loosened)]).expect_err("loosened");
    assert!(finding(&rejected.findings, "words-in-header").help.contains("tightened"));
}

/// Turns are full turns of the screw, clockwise from above: what says otherwise is refused, in brackets and out of them.
#[test]
fn turns_that_are_no_clockwise_turns_are_refused() {
    let log = ("diameters.csv", "setting,station_mm,diameter_mm\n0,10,38.021\n0,190,38.034\n1,10,38.021\n1,190,38.034\n");
    let read = |header: &str, turns: &str| {
        read_folder(&[log, ("moves.csv", &format!("from_setting,to_setting,foot,{header}\n0,1,tailstock-rear,{turns}\n"))])
    };
    for (header, word, right) in [
        ("turns (anticlockwise)", "`anticlockwise`", "turn the sign"),
        ("turns anticlockwise", "`anticlockwise`", "turn the sign"),
        ("turns (ccw positive)", "`ccw`", "turn the sign"),
        ("turns (counter-clockwise)", "`counter`", "turn the sign"),
        ("turns (clockwise -)", "`minus`", "turn the sign"),
        ("turns (- = clockwise)", "`minus`", "turn the sign"),
        ("turns (clockwise from below)", "`below`", "turn the sign"),
        ("turns (deg)", "`deg`", "45 degrees as 0.125"),
        ("turns (quarter)", "`quarter`", "a quarter as 0.25"),
        ("turns (1/4)", "`1 per 4`", "a quarter as 0.25"),
        ("turns (mm)", "`mm`", "`raise_mm`"),
        ("turns (odd)", "`odd`", "clockwise seen from above is positive"),
    ] {
        let rejected = read(header, "1").expect_err(header);
        let found = finding(&rejected.findings, "words-in-header");
        assert!(found.found.contains(word) && found.help.contains(right) && found.row == Some(1), "{header}: {found:?}");
    }
    for header in [
        "turns",
        "Turns (clockwise)",
        "turns (cw)",
        "turns (cw positive)",
        "turns (+ = clockwise)",
        "turns (rev)",
        "turns of the screw",
        "turn",
    ] {
        let trial = read(header, "0.25").unwrap_or_else(|rejected| panic!("{header}: {:?}", rejected.findings));
        assert!(trial.moves[0].turns == Some(0.25) && trial.findings.is_empty(), "{header}: {:?}", trial.findings);
    }
    for (header, number, found, right) in [
        ("turns", "45", "45 turns in one move", "in degrees? Then write 0.125."),
        ("turns", "-6", "-6 turns in one move", "six a turn? Then write -1."),
        ("raise_mm", "20", "a raise of 20 mm", "in µm? Then write 0.02."),
        ("raise_um", "3000", "a raise of 3000 µm", "look at the number"),
        ("raise_in", "-4", "a raise of -4 in", "thousandths of an inch? Then write -0.004."),
    ] {
        let trial = read(header, number).unwrap_or_else(|rejected| panic!("{header}: {:?}", rejected.findings));
        let asked = finding(&trial.findings, "unlikely-value");
        assert_eq!((asked.severity, asked.file.as_deref(), asked.row), (Severity::Warning, Some("moves.csv"), Some(2)));
        assert!(asked.found.contains(found) && asked.help.contains(right) && asked.column.as_deref() == Some(header), "{asked:?}");
    }
    for (header, number) in [("turns", "3"), ("turns", "-0.5"), ("raise_mm", "2"), ("raise_um", "-200"), ("raise_thou", "4")] {
        let trial = read(header, number).expect("a move");
        assert!(trial.findings.iter().all(|found| found.code != "unlikely-value"), "{header} {number}: {:?}", trial.findings);
    }
}

#[test]
fn decimal_commas_that_fill_the_next_cell_are_refused() {
    for (header, rows) in [
        ("station_mm,diameter_mm,note", "10,38,021\n60,38,024\n190,38,034\n"),
        ("station_mm,diameter_mm,note", "10,38,021,\n60,38,024,\n190,38,034,\n"),
        ("station_mm,diameter_mm,note", "10,38,\n60,38,024\n190,38,03\n200,38,035\n"),
        ("station_mm,diameter_mm,note", "10,1,4962\n60,1,4963\n190,1,4966\n"),
        ("station_mm,diameter_mm,edge,note", "10,38,021,\n60,38,021,\n190,38,021,\n"),
        ("station_mm,diameter_mm,pass", "10,38,021\n60,38,024\n190,38,034\n"),
        ("station_mm,diameter_mm,temperature_c", "10,38,021\n60,38,022\n190,38,021\n"),
        ("station_mm,pass 1,pass 2", "10,38,021\n60,38,024\n190,38,034\n"),
    ] {
        let found = fault(&format!("{header}\n{rows}"), "comma-twice");
        assert!(found.row == Some(2) && found.help.contains("quotes") && found.column.is_some(), "{header}: {found:?}");
    }
    let log = ("diameters.csv", &*format!("station_mm,diameter_mm\n{ROWS}"));
    let rejected = read_folder(&[log, ("levels.csv", "station_mm,roll_mm_per_m,note\n10,0,021\n60,0,024\n")]).expect_err("commas");
    assert!(finding(&rejected.findings, "comma-twice").found.contains("10,0,021"));
}

#[test]
fn whole_numbers_beside_other_cells_are_read() {
    for text in [
        "station_mm,diameter_mm,pass\n10,38,1\n60,38,1\n10,37,2\n60,37,2\n",
        "station_mm,diameter_mm,pass\n10,38,10\n60,38,10\n10,37,11\n60,37,11\n",
        "station_mm,diameter_mm,edge,pass\n10,38,1,1\n60,38,2,2\n110,38,3,3\n",
        "station_mm,diameter_mm,edge,pass\n10,38,01,1\n60,38,01,1\n110,38,01,1\n160,38,02,2\n",
        "station_mm,diameter_mm,temperature_c\n10,38,20\n60,38,21\n110,38,22\n",
        "station_mm,diameter_mm,angle_deg\n10,38,120\n60,38,240\n110,38,180\n",
        "diameter_mm,station_mm\n38,100\n38,200\n38,300\n",
        "station_mm,diameter_um,note\n10,38021,021\n60,38022,022\n110,38023,023\n",
        "station_mm,diameter_mm,note\n10,38.1,021\n60,38,022\n110,38,023\n",
        "station_mm;diameter_mm;note\n10;38;021\n60;38;022\n110;38;023\n",
        "station_mm,note,diameter_mm\n25,101,40.021\n60,102,40.022\n",
        "station_mm,operator,diameter_mm\n25,101,40.021\n60,102,40.022\n100,103,40.024\n",
        "station_mm,repeat,diameter_mm\n25,101,40.021\n60,102,40.022\n100,103,40.024\n",
        "station_mm,pass,diameter_mm\n25,001,40.021\n145,001,40.022\n25,002,40.024\n145,002,40.024\n",
        "station_mm,diameter_mm,note\n10,38,\"021\"\n60,38,\"022\"\n110,38,\"023\"\n",
    ] {
        assert_eq!(good(text).diameters.len(), text.lines().count() - 1, "{text}");
    }
}

#[test]
fn a_second_table_is_refused_where_it_reads_a_pass_again() {
    let long = "station_mm,diameter_mm,pass\n10,38.021,1\n190,38.034,1\n10,37.8,2\n190,37.8,2\n";
    let wide = "station (mm),pass 1,pass 2\n10,38.021,37.821\n190,38.034,37.834\n";
    let repeats = "station_mm,repeat,diameter_mm\n10,1,38.021\n190,1,38.034\n";
    for (table, row) in [(long, 6), (wide, 4), (repeats, 4)] {
        let found = fault(&format!("{table}{table}"), "two-tables");
        assert!(found.row == Some(row) && found.help.contains("column pass"), "{found:?}");
    }
    let header = |text: &'static str| text.lines().next().expect("a header");
    for more in [
        format!("{long}{}\n10,37.6,3\n190,37.6,3\n", header(long)),
        format!("{wide}{}\n100,38.021,37.821\n", header(wide)),
        format!("{repeats}{}\n10,2,38.021\n190,2,38.034\n", header(repeats)),
    ] {
        assert_eq!(finding(&good(&more).findings, "header-again").severity, Severity::Warning, "{more}");
    }
}

#[test]
fn stations_across_are_no_passes() {
    let found = fault("station_mm,10,60,110,190\n1,38.021,38.022,38.025,38.034\n2,37.921,37.922,37.925,37.934\n", "stations-across");
    assert_eq!((found.row, found.column.as_deref()), (Some(1), Some("60")));
    assert!(found.help.contains("turn the sheet") && found.help.contains("`pass 60`"), "{found:?}");
    // inches and small machines: what counts by one are the passes
    for (header, rows, odd) in [
        ("station_in,1,2,4,6", "1,1.5001,1.5002,1.5003,1.5004\n2,1.49,1.4901,1.4902,1.4904\n", "4"),
        ("station_mm,5,10,20,30", "1,8.001,8.002,8.003,8.004\n2,7.8,7.801,7.802,7.804\n3,7.7,7.701,7.702,7.704\n", "10"),
        ("station_mm,5,10,20,30", "1,8.001,8.002,8.003,8.004\n", "10"),
    ] {
        let found = fault(&format!("{header}\n{rows}"), "stations-across");
        assert!(found.column.as_deref() == Some(odd) && found.help.contains(&format!("`pass {odd}`")), "{header}: {found:?}");
    }
    // a pass that is missing leaves a leap, and stations do not count by one
    let gap = good("station_mm,1,2,4\n25,40.1,40.0,39.8\n60,40.1,40.0,39.8\n100,40.1,40.0,39.8\n");
    assert_eq!((gap.diameters.len(), finding(&gap.findings, "passes-missing").found.contains("pass 3 ")), (9, true));
    assert_eq!(good("station_in,1,2,3\n1,1.5,1.49,1.48\n2,1.5,1.49,1.48\n3,1.5,1.49,1.48\n").diameters.len(), 9);
    assert_eq!(good("station_in,pass 1,pass 2,pass 4\n1,1.5,1.49,1.48\n2,1.5,1.49,1.48\n").diameters.len(), 6);
    let passes = |header: &str| good(&format!("station_mm,{header}\n10,38.021,38.022\n190,38.034,38.035\n")).diameters.len();
    for header in ["1,2", "1 (in),2 (in)", "pass 10,pass 60", "p10,p11", "3,12", "7 to-headstock,8 to-tailstock"] {
        assert_eq!(passes(header), 4, "{header}");
    }
}

/// A quantity over its unit is ISO 80000-1's way to head a column (from memory); a feed is per revolution whether its unit says so or not.
#[test]
fn units_after_a_stroke_are_units() {
    let plain = good("station_mm,diameter_mm,feed_mm_per_rev\n10,38.021,0.1\n190,38.034,0.1\n");
    for header in
        ["Station / mm,Diameter / mm,Feed / (mm/rev)", "station /mm,Ø/mm,Feed per rev (mm)", "Station/mm,D / mm,feed per revolution / mm"]
    {
        let found = good(&format!("{header}\n10,38.021,0.1\n190,38.034,0.1\n"));
        assert_eq!(found.diameters, plain.diameters, "{header}");
    }
    assert_eq!(fault("station_mm,diameter per rev (mm)\n10,38.021\n190,38.034\n", "words-in-header").row, Some(1));
}

#[test]
fn grouped_thousands_are_no_decimals() {
    let help = |text: &str, code: &str| fault(text, code).help;
    let long = "station_mm;diameter_mm\n100;58,021\n600;58,024\n1.100;58,027\n1.600;58,031\n";
    assert!(help(long, "mixed-decimal-marks").contains("thousands separator? write 1100;"));
    let followed = help(&long.replace('.', ","), "thousands-separator");
    assert!(followed.contains("write 1100;"), "{followed}");
    // the diameters decide which mark is the decimal one
    let far = "station_mm;diameter_mm\n1.000;58,021\n1.500;58,027\n1.900;58,034\n";
    let found = fault(far, "mixed-decimal-marks");
    assert!(found.column.as_deref() == Some("station_mm") && found.help.contains("write 1000;"), "{found:?}");
    for (column, text) in
        [("diameter_um", "10;38.021\n100;38.027\n"), ("diameter_um", "10;38,021\n100;38,027\n"), ("dia_thou", "10;1,496\n100;1,497\n")]
    {
        let found = fault(&format!("station_mm;{column}\n{text}"), "absurd-size");
        assert!(found.found.contains(column) && found.help.contains("in mm"), "{found:?}");
    }
    let thick = fault("station_mm;diameter_mm\n10;38021\n100;38027\n", "absurd-size");
    assert!(thick.found.contains("thicker than 10 m") && thick.help.contains("µm"), "{thick:?}");
    for text in ["100;58,02\n125,5;58,02\n", "100;58,02\n112,625;58,02\n", "20,125;58,02\n100;58,02\n", "50;58,02\n1,125;58,02\n"] {
        assert_eq!(good(&format!("station_mm;diameter_mm\n{text}")).diameters.len(), 2, "{text}");
    }
}

#[test]
fn sizes_that_no_turned_bar_has_are_told() {
    // six passes, each 0.1 mm smaller: over all of them the exchanged stations are not within a hundredth
    let rows: Vec<String> = (0..6)
        .flat_map(|pass| [10, 100, 208].map(|z| format!("{},{z},{:.3}", pass + 1, 40.018 - 0.1 * f64::from(pass) + f64::from(z) * 1e-4)))
        .collect();
    let swapped = fault(&format!("pass,diameter_mm,station_mm\n{}\n", rows.join("\n")), "swapped-columns");
    assert!(swapped.help.contains("swapped"), "{swapped:?}");
    assert!(faults("station_mm,diameter_mm\n38.021,100\n38.024,130\n38.034,190\n").iter().any(|f| f.code == "swapped-columns"));
    assert_eq!(good(&format!("pass,station_mm,diameter_mm\n{}\n", rows.join("\n"))).diameters.len(), 18);
    // every reading a pass of its own
    let single = "station_mm,diameter_mm,pass\n40.021,25,1\n40.022,60,2\n40.024,145,3\n";
    assert_eq!(fault(single, "swapped-columns").row, Some(2));
    assert_eq!(good("station_mm,diameter_mm,pass\n25,40.021,1\n60,40.022,2\n145,40.024,3\n").diameters.len(), 3);
    assert_eq!(good("station_mm,diameter_mm,pass\n25,40.021,1\n60,30.022,2\n145,20.024,3\n").diameters.len(), 3, "apart by station");
    let told = |text: &str| -> Vec<&'static str> { good(text).findings.iter().map(|f| f.code).collect() };
    assert_eq!(told("station_mm,diameter_mm\n1.000,58.021\n1.500,58.027\n1.900,58.034\n"), ["short-length"]);
    assert_eq!(told("station_mm,diameter_mm\n10,38.021\n60,48.024\n110,38.027\n"), ["diameters-far-apart"]);
    assert_eq!(told("station_mm,diameter_mm\n10,38.021\n15,38.024\n"), [""; 0]);
    assert_eq!(told("station_mm,diameter_mm,pass\n10,38.021,1\n60,38.024,1\n10,28.021,2\n60,28.024,2\n"), [""; 0]);
}

#[test]
fn a_comment_with_a_reading_in_it_is_told() {
    let log = "insert,station_mm,diameter_mm,pass\n#1,10,38.021,1\n# tea, at ten, dry, cold\nB,10,37.921,2\nB,190,37.934,2\n";
    let trial = good(log);
    let found = finding(&trial.findings, "commented-row");
    assert_eq!((found.severity, found.row, trial.diameters.len()), (Severity::Warning, Some(2), 2));
    assert_eq!(trial.findings.iter().filter(|f| f.code == "commented-row").count(), 1);
    assert_eq!(good(&log.replace("#1,", "\"#1\",")).diameters.len(), 3);
}

#[test]
fn cells_are_named_by_what_is_wrong_in_them() {
    let cell = |cell: &str| format!("station_in,dia_in\n{cell},1.4962\n7,1.4966\n");
    for (text, number) in [("1 1/2", "1.5"), ("1/2", "0.5"), ("7-1/2\"", "7.5")] {
        let found = fault(&cell(text), "fraction");
        assert!(found.help.ends_with(number), "{found:?}");
    }
    for hidden in ['\u{feff}', '\u{200b}'] {
        let found = fault(&cell(&format!("{hidden}1.5")), "not-a-number");
        let number = format!("U+{:04X}", u32::from(hidden));
        assert!(found.found.contains(&number) && found.help.contains(&number), "{found:?}");
    }
}

#[test]
fn readings_that_a_formula_converted_tell_no_resolution() {
    let trial = good("station_in,dia_in\n0.39,1.49688976377953\n7.48,1.49740157480315\n");
    assert!((trial.gauge.diameter.resolution_mm - 0.001).abs() < 1e-15);
    let why = |trial: &taperwright::trial::Trial| {
        trial.assumed.iter().find(|a| a.key == "gauge.diameter.resolution_mm").map(|a| a.why.clone()).unwrap_or_default()
    };
    assert!(why(&trial).contains("conversion"), "{}", why(&trial));
    let trial = good("station_mm,diameter_mm\n10,38.02145\n190,38.03412\n");
    assert!((trial.gauge.diameter.resolution_mm - 1e-5).abs() < 1e-15 && why(&trial) == "the finest decimal used");
}
