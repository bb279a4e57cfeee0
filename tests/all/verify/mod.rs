//! `verify`: a report is made again from what it carries, and every alteration is seen and named.

mod hostile;
mod other_version;
mod tampering;
mod whole;

use std::path::Path;
use std::sync::OnceLock;
use taperwright::analysis::{Options, analyse};
use taperwright::ingest::{ReadOptions, read_trial};
use taperwright::report::{Carried, PageOptions, page_html};
use taperwright::verify::{Refusal, Verdict, verify};

/// The page of two collars, one reading each: a small one, made once.
pub fn page() -> &'static str {
    static PAGE: OnceLock<String> = OnceLock::new();
    PAGE.get_or_init(|| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-data/two-collars");
        let trial = read_trial(&path, &ReadOptions::default()).expect("a good trial");
        page_html(&analyse(trial, Options::default()), &PageOptions::default()).expect("a page")
    })
}

/// What is said of a page without any folder of logs.
pub fn judged(page: &str) -> Result<Verdict, Refusal> {
    verify(page.as_bytes(), &|_| None)
}

/// The page with another record of what it carries.
pub fn with_record(page: &str, change: impl FnOnce(&mut Carried)) -> String {
    let mut record = Carried::on_page(page).expect("a record");
    change(&mut record);
    let (before, rest) = page.split_once("<template id=\"carried\">").expect("its start");
    let (_, after) = rest.split_once("</template>").expect("its end");
    let text = serde_json::to_string(&record).unwrap().replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
    format!("{before}<template id=\"carried\">{text}</template>{after}")
}
