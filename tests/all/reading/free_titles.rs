//! Titles in free words: only what says one thing alone, or stands over columns, is refused; what seems to say it is asked about.

use super::bench::{finding, good, read_bytes, read_folder};
use taperwright::findings::{Finding, Severity};
use taperwright::ingest::ReadOptions;

const WIDE: &str = "Station (mm),Pass 1,Pass 2,Pass 3\n20,38.001,37.902,37.800\n60,38.006,37.904,37.806\n100,38.010,37.890,37.81\n";
const LONG: &str = "station_mm,diameter_mm,note\n20,38.001,\n60,38.006,\n100,38.010,\n";

fn refusal(text: &str) -> Finding {
    let findings = read_bytes(text.as_bytes(), &ReadOptions::default()).err().map(|rejected| rejected.findings).unwrap_or_default();
    finding(&findings, "meaning-above-header").clone()
}

fn only_noted(text: &str) {
    let trial = good(text);
    assert!(trial.findings.iter().all(|finding| finding.severity == Severity::Note), "{text}: {:?}", trial.findings);
}

#[test]
fn titles_of_other_things_are_passed_over() {
    for title in [
        // to the headstock
        "Direction,right to left,",
        "Direction of cut: right to left",
        "Direction of travel: right to left",
        "Traverse direction: right-to-left",
        "Direction of cut: right to left, to headstock",
        "Direction: TS to HS",
        "Tool travel,right to left,right to left,right to left",
        // zeros of gauges and slides
        "Dial 0 at tailstock",
        "Mic zeroed at tailstock",
        "Micrometer set to 0 at tailstock end",
        "Tailstock set over: 0",
        "Taper 0 at tailstock",
        "Top slide set to 0 at tailstock end",
        "Zero tailstock offset",
        "Station 1 to tailstock 30 mm",
        // a label and its value
        "Stations,from chuck face,,",
        "Station,from chuck,,",
        "Positions measured,from headstock,,",
        "Position,from chuck,,",
        "Distances,from chuck jaws,,",
        "Measured,from chuck,,",
        "Zero,from chuck,,",
        "Taper,larger to tailstock,,",
        "Measurement direction,from chuck to tailstock",
        "Operator,TS,HS,TS",
        "Tool,T",
        "Tool,left,right,left",
        "Pass,1,2,3",
        "Cut by,AB,CD,AB",
        "Start,9:00,9:30,10:00",
        "Direction,to headstock,Date,12 March",
        "Direction,left,left,left",
        "Setting,A,A,A",
        "Set by,AB,CD,AB",
        // signs, strokes back, tools, orders of reading
        "Positive direction: towards tailstock",
        "z direction: to tailstock",
        "z axis direction: chuck to tailstock",
        "Direction of measurement,to tailstock",
        "Measuring direction: headstock to tailstock",
        "Stations direction: headstock to tailstock",
        "Direction of taper: larger to tailstock",
        "Taper direction: bigger towards tailstock",
        "Tool wound back to tailstock before each pass",
        "Carriage returned to tailstock between passes",
        "Tool retracted and returned to tailstock end",
        "Return travel to tailstock end with tool clear",
        "Tool height set to tailstock centre",
        "Cutting edge set to the tailstock point",
        "Tool post towards tailstock side",
        "Tool angled to tailstock 5 deg",
        "Compound slide turned to tailstock",
        "Alternate cuts with new tip",
        "Cuts alternate between light and heavy",
        "Passes to tailstock omitted",
        "Measured from end to end",
        "Measured from the end nearest the chuck",
        "Distance from end face of chuck",
        "Readings taken from tailstock end to headstock",
        "Readings: right to left",
        "Readings in the order from tail to head",
        "Readings from tail micrometer",
        "To: Tail Ltd",
        "From: Tail Ltd",
    ] {
        for log in [WIDE, LONG] {
            only_noted(&format!("{title}\n{log}"));
        }
    }
    for title in ["Dial set to zero at the tailstock end", "Units,um", "Units,mm"] {
        for (file, log) in [
            ("clamp.csv", "foot,station_mm,change_um\nheadstock-front,180,1\nheadstock-rear,180,0\n"),
            ("levels.csv", "station_mm,roll_mm_per_m\n10,0.01\n100,0.02\n"),
        ] {
            let trial = read_folder(&[("diameters.csv", LONG), (file, &format!("{title}\n{log}"))]).expect(title);
            assert!(trial.findings.iter().all(|finding| finding.code != "meaning-above-header"), "{title}: {:?}", trial.findings);
        }
    }
}

#[test]
fn free_text_that_seems_to_say_something_is_asked_about() {
    for (title, asks) in [
        ("Bar finished with a light cut towards the tailstock by hand", "to-headstock"),
        ("Pass to tailstock in diameters-2.csv", "to-headstock"),
        ("Stations marked with a felt pen from the tailstock end", "200 − 10 = 190"),
        ("Measured from the tailstock end", "200 − 10 = 190"),
        ("Readings from the tailstock", "200 − 10 = 190"),
        ("Readings of this sheet written down in inches", "mend the header"),
    ] {
        for log in [WIDE, LONG] {
            let trial = good(&format!("{title}\n{log}"));
            let found = finding(&trial.findings, "meaning-above-header");
            assert!(found.severity == Severity::Warning && found.help.contains(asks), "{title}: {found:?}");
            assert!(
                found.help.starts_with("lines above the header are not read. ") && found.help.contains(" If it says that "),
                "{found:?}"
            );
            assert!(found.help.ends_with("; if it says nothing of the kind put # before it"), "{found:?}");
        }
    }
    let trial = good(&format!("Saddle,to tailstock,,\n{WIDE}"));
    let found = finding(&trial.findings, "meaning-above-header");
    assert!(found.severity == Severity::Warning && found.help.contains("to-headstock` or `Pass 1 to-tailstock`"), "{found:?}");
}

#[test]
fn rows_that_part_the_passes_in_other_words_are_refused() {
    for (title, help) in [
        ("Direction,left,right,left", "`Pass 1 to-headstock` or `Pass 1 to-tailstock`"),
        ("Direction,←,→,←", "`Pass 1 to-headstock` or"),
        ("Direction,<-,->,<-", "`Pass 1 to-headstock` or"),
        ("Direction,R-L,L-R,R-L", "`Pass 1 to-headstock` or"),
        ("Direction,RL,LR,RL", "`Pass 1 to-headstock` or"),
        ("Direction,R>L,L>R,R>L", "`Pass 1 to-headstock` or"),
        ("Direction,in,out,in", "`Pass 1 to-headstock` or"),
        ("Direction,forward,reverse,forward", "`Pass 1 to-headstock` or"),
        ("Cut towards,left,right,left", "`Pass 1 to-headstock` or"),
        ("Direction,T-H,H-T,T-H", "`Pass 1 to-headstock` or"),
        ("Direction,Chuckwards,Tailwards,Chuckwards", "`Pass 1 to-headstock` or"),
        ("Direction,left,right,", "`Pass 1 to-headstock` or"),
        ("Towards,chuck,tail,chuck", "`Pass 2 to-tailstock`"),
        ("From,TS,HS,TS", "`Pass 2 to-tailstock`"),
        ("From,tailstock,headstock,tailstock", "`Pass 2 to-tailstock`"),
        ("Started at,tailstock,headstock,tailstock", "`Pass 2 to-tailstock`"),
        ("Tool travel,right to left,left to right,right to left", "`Pass 2 to-tailstock`"),
        ("Setting,A,A,B", "pass and setting"),
    ] {
        let found = refusal(&format!("{title}\n{WIDE}"));
        assert!(found.severity == Severity::Error && found.help.contains(help), "{title}: {found:?}");
        assert!(!found.help.contains("another unit"), "{title}: {found:?}");
        // a log that names its ways itself is read
        if !title.starts_with("Setting") {
            let named = WIDE
                .replace("Pass 2", "Pass 2 to-tailstock")
                .replace("Pass 1", "Pass 1 to-headstock")
                .replace("Pass 3", "Pass 3 to-headstock");
            only_noted(&format!("{title}\n{named}"));
        }
    }
    // a line that says one thing and no more
    for title in ["Direction: to tailstock", "Direction: left to right", "Stations right to left", "Station 0 at the tailstock", "Units,in"]
    {
        for log in [WIDE, LONG] {
            let found = refusal(&format!("{title}\n{log}"));
            assert_eq!(found.severity, Severity::Error, "{title}: {found:?}");
        }
    }
}
