//! How a page differs from the page made again, place by place.

use super::alignment::{Stretch, stretches};
use super::tokens::{Part, Place, Token, places, plain, tokens};
use serde::Serialize;

/// Letters of an excerpt that are shown at most.
const EXCERPT: usize = 72;
/// Letters before the first that differs.
const BEFORE: usize = 18;

/// One difference.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// Where on the page, in words.
    pub place: String,
    /// Key of the number in the result file, or its name on the page.
    pub key: Option<String>,
    /// What the page has; `None` where it has nothing.
    pub page: Option<String>,
    /// What its logs give; `None` where they give nothing.
    pub logs: Option<String>,
}

impl Difference {
    /// The difference as a sentence without its full stop.
    #[must_use]
    pub fn in_words(&self) -> String {
        let key = self.key.as_ref().map_or_else(String::new, |key| format!("{key}, "));
        let told = match (&self.page, &self.logs) {
            (Some(page), Some(logs)) => format!("the page has `{page}`, its logs give `{logs}`"),
            (Some(page), None) => format!("the page has `{page}`, which its logs do not give"),
            (None, Some(logs)) => format!("the page lacks `{logs}`"),
            (None, None) => "differs".to_owned(),
        };
        format!("{key}{}: {told}", self.place)
    }
}

/// Every difference between a page and the page made again, in their order.
#[must_use]
pub fn differences(page: &str, made: &str) -> Vec<Difference> {
    if page == made {
        return Vec::new();
    }
    if page.replace("\r\n", "\n") == made {
        let place = "in its line ends".to_owned();
        return vec![Difference { place, key: None, page: Some("CR LF".to_owned()), logs: Some("LF".to_owned()) }];
    }
    let sides = [Side::of(page), Side::of(made)];
    let mut found: Vec<Found> = Vec::new();
    for stretch in stretches(&sides[0].tokens, &sides[1].tokens) {
        tell(&sides, &stretch, &mut found);
    }
    found.into_iter().map(|each| each.difference).collect()
}

struct Side<'p> {
    tokens: Vec<Token<'p>>,
    places: Vec<Place>,
}

impl<'p> Side<'p> {
    fn of(page: &'p str) -> Self {
        let tokens = tokens(page);
        let places = places(&tokens);
        Self { tokens, places }
    }

    fn place(&self, index: usize) -> Place {
        self.places.get(index).or(self.places.last()).copied().unwrap_or_default()
    }

    /// Tag and shown text of the number around token `index`.
    fn number(&self, index: usize) -> Option<(usize, Token<'p>, String)> {
        let tag = self.place(index).number?;
        let shown = self.tokens.iter().skip(tag + 1).take_while(|token| token.name() != "/data").map(|token| token.text()).collect();
        Some((tag, *self.tokens.get(tag)?, shown))
    }

    fn text(&self, range: std::ops::Range<usize>) -> String {
        self.tokens.get(range).unwrap_or_default().iter().map(|token| token.text()).collect()
    }
}

struct Found {
    difference: Difference,
    /// The number's tag on the page, so that a number is told once.
    number: Option<usize>,
}

fn tell(sides: &[Side<'_>; 2], stretch: &Stretch, found: &mut Vec<Found>) {
    let [page, made] = sides;
    if stretch.page.len() != stretch.made.len() {
        let place = made.place(stretch.made.start).in_words(&made.tokens);
        let (ours, theirs) = excerpts(page.text(stretch.page.clone()).trim(), made.text(stretch.made.clone()).trim());
        let some = |text: String| (!text.is_empty()).then_some(text);
        let difference = Difference { place, key: None, page: some(ours), logs: some(theirs) };
        return found.push(Found { difference, number: None });
    }
    for (here, there) in stretch.page.clone().zip(stretch.made.clone()) {
        let (Some(ours), Some(theirs)) = (page.tokens.get(here), made.tokens.get(there)) else { continue };
        if ours == theirs {
            continue;
        }
        if let (Some(a), Some(b)) = (page.number(here), made.number(there)) {
            if found.last().is_none_or(|last| last.number != Some(a.0)) {
                found.push(Found { difference: of_number(made, there, &a, &b), number: Some(a.0) });
            }
            continue;
        }
        let place = made.place(there);
        let (at, (ours, theirs)) = match attribute(*ours, *theirs) {
            Some((name, ours, theirs)) => (format!(", attribute {name}"), excerpts(ours, theirs)),
            None => (String::new(), excerpts(ours.text(), theirs.text())),
        };
        let at = if place.part == Part::Carried { String::new() } else { at };
        let place = format!("{}{at}", place.in_words(&made.tokens));
        found.push(Found { difference: Difference { place, key: None, page: Some(ours), logs: Some(theirs) }, number: None });
    }
}

/// The difference of a number: what is shown where that differs, else its tag's attribute.
fn of_number(made: &Side<'_>, index: usize, page: &(usize, Token<'_>, String), logs: &(usize, Token<'_>, String)) -> Difference {
    let key = logs.1.attribute("data-key").or(logs.1.attribute("data-page-key")).map(plain);
    let place = made.place(index).in_words(&made.tokens);
    let (at, (ours, theirs)) = if page.2 != logs.2 {
        (String::new(), excerpts(&page.2, &logs.2))
    } else if let Some((name, ours, theirs)) = attribute(page.1, logs.1) {
        (format!(", attribute {name}"), excerpts(ours, theirs))
    } else {
        (String::new(), excerpts(page.1.text(), logs.1.text()))
    };
    Difference { place: format!("{place}{at}"), key, page: Some(ours), logs: Some(theirs) }
}

/// The only attribute in which two tags differ, with both values.
fn attribute<'p>(one: Token<'p>, other: Token<'p>) -> Option<(&'p str, &'p str, &'p str)> {
    let (ours, theirs) = (one.attributes(), other.attributes());
    if one.name() != other.name() || ours.len() != theirs.len() {
        return None;
    }
    let mut differing = ours.iter().zip(&theirs).filter(|(a, b)| a != b);
    let (a, b) = differing.next()?;
    (a.0 == b.0 && differing.next().is_none()).then_some((a.0, a.1, b.1))
}

/// Both texts, cut to the surroundings of the first letter that differs.
fn excerpts(one: &str, other: &str) -> (String, String) {
    let (one, other) = (plain(one), plain(other));
    let same = one.chars().zip(other.chars()).take_while(|(a, b)| a == b).count();
    let from = if one.chars().count().max(other.chars().count()) > EXCERPT { same.saturating_sub(BEFORE) } else { 0 };
    let cut = |text: &str| {
        let shown: String = text.chars().skip(from).take(EXCERPT).collect();
        let more = text.chars().count() > from + EXCERPT;
        format!("{}{shown}{}", if from > 0 { "…" } else { "" }, if more { "…" } else { "" })
    };
    (cut(&one), cut(&other))
}
