//! Printed numbers of two pages, compared by their keys: for a page that another version of the program made.

use super::difference::Difference;
use super::tokens::{Place, Token, places, plain, tokens};
use std::collections::BTreeMap;

/// How far the value behind a printed number may be off, relative to itself: what another build may round otherwise.
const SAME: f64 = 1e-9;

/// What became of the numbers of two pages.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct NumbersCompared {
    /// Numbers with a key that both pages have.
    pub compared: usize,
    /// Keys that only the page has.
    pub only_on_page: usize,
    /// Keys that only the page made again has.
    pub only_from_logs: usize,
    /// Numbers that differ.
    pub differences: Vec<Difference>,
}

struct Number<'p> {
    value: &'p str,
    shown: String,
    place: Place,
}

/// The numbers of a page by key, in the page's order.
fn numbers<'p>(tokens: &[Token<'p>]) -> BTreeMap<String, Vec<Number<'p>>> {
    let places = places(tokens);
    let mut found: BTreeMap<String, Vec<Number<'p>>> = BTreeMap::new();
    for (index, token) in tokens.iter().enumerate().filter(|(_, token)| token.name() == "data") {
        let (Some(key), Some(value)) = (token.attribute("data-key"), token.attribute("value")) else { continue };
        let shown = tokens.iter().skip(index + 1).take_while(|token| token.name() != "/data").map(|token| token.text()).collect();
        let place = places.get(index).copied().unwrap_or_default();
        found.entry(plain(key)).or_default().push(Number { value, shown, place });
    }
    found
}

/// How many numbers with a key a page shows.
#[must_use]
pub fn count_numbers(page: &str) -> usize {
    tokens(page).iter().filter(|token| token.name() == "data" && token.attribute("data-key").is_some()).count()
}

fn same_value(one: &str, other: &str) -> bool {
    match (one.parse::<f64>(), other.parse::<f64>()) {
        (Ok(a), Ok(b)) => (a - b).abs() <= SAME * a.abs().max(b.abs()),
        _ => one == other,
    }
}

/// Compares the numbers of `page` with those of `made`: a number agrees when `made` prints the same text, with the same value behind it, under the same key.
#[must_use]
pub fn compare_numbers(page: &str, made: &str) -> NumbersCompared {
    let (page_tokens, made_tokens) = (tokens(page), tokens(made));
    let (ours, theirs) = (numbers(&page_tokens), numbers(&made_tokens));
    let mut outcome =
        NumbersCompared { only_from_logs: theirs.keys().filter(|key| !ours.contains_key(*key)).count(), ..Default::default() };
    for (key, shown) in &ours {
        let Some(given) = theirs.get(key) else {
            outcome.only_on_page += 1;
            continue;
        };
        for (index, number) in shown.iter().enumerate() {
            outcome.compared += 1;
            let agrees = |other: &Number<'_>| other.shown == number.shown && same_value(other.value, number.value);
            // a key may be printed more than once, to different figures
            if !given.iter().any(agrees) {
                let other = given.get(index).or(given.first());
                let told = |number: &Number<'_>| format!("{} (value {})", plain(&number.shown), plain(number.value));
                outcome.differences.push(Difference {
                    place: number.place.in_words(&page_tokens),
                    key: Some(key.clone()),
                    page: Some(told(number)),
                    logs: other.map(told),
                });
            }
        }
    }
    outcome
}
