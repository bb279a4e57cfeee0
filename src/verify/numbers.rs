//! Printed numbers of two pages, compared by their keys: for a page that another version of the program made.

use super::difference::Difference;
use super::tokens::{Place, Token, places, plain, tokens};
use std::collections::BTreeMap;

/// How far the value behind a printed number may be off, relative to itself: what another build may round otherwise.
const SAME: f64 = 1e-9;

/// What became of the numbers of two pages.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct NumbersCompared {
    /// Printed numbers with a key for which the other page has a partner.
    pub compared: usize,
    /// Keys that only the page has.
    pub only_on_page: usize,
    /// Keys that only the page made again has.
    pub only_from_logs: usize,
    /// Numbers that differ, and those that one page lacks; by key.
    pub differences: Vec<Difference>,
}

struct Number<'p> {
    value: &'p str,
    shown: String,
    place: Place,
}

/// The key of a number: that of the result file, or its name on the page.
fn key_of(token: Token<'_>) -> Option<&str> {
    token.attribute("data-key").or(token.attribute("data-page-key"))
}

/// The numbers of a page by key, in the page's order.
fn numbers<'p>(tokens: &[Token<'p>]) -> BTreeMap<String, Vec<Number<'p>>> {
    let places = places(tokens);
    let mut found: BTreeMap<String, Vec<Number<'p>>> = BTreeMap::new();
    for (index, token) in tokens.iter().enumerate().filter(|(_, token)| token.name() == "data") {
        let (Some(key), Some(value)) = (key_of(*token), token.attribute("value")) else { continue };
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
///
/// A key may be printed more than once, to different figures: each printed number of the one page takes one of the other. What then is left on either
/// page is a difference: a number that the logs give and the page lacks, and one that the page has and the logs do not give.
#[must_use]
pub fn compare_numbers(page: &str, made: &str) -> NumbersCompared {
    let (page_tokens, made_tokens) = (tokens(page), tokens(made));
    let (ours, mut theirs) = (numbers(&page_tokens), numbers(&made_tokens));
    let mut outcome = NumbersCompared {
        only_from_logs: theirs.keys().filter(|key| !ours.contains_key(*key)).count(),
        only_on_page: ours.keys().filter(|key| !theirs.contains_key(*key)).count(),
        ..Default::default()
    };
    for (key, shown) in ours {
        let mut given = theirs.remove(&key).unwrap_or_default();
        outcome.compared += shown.len().min(given.len());
        let mut left = Vec::new();
        for number in shown {
            match given.iter().position(|other| other.shown == number.shown && same_value(other.value, number.value)) {
                Some(place) => drop(given.remove(place)),
                None => left.push(number),
            }
        }
        let mut given = given.into_iter();
        for number in left {
            let place = number.place.in_words(&page_tokens);
            let logs = given.next().map(|other| told(&other));
            outcome.differences.push(Difference { place, key: Some(key.clone()), page: Some(told(&number)), logs });
        }
        outcome.differences.extend(given.map(|number| lacking(&key, &number, &made_tokens)));
    }
    for (key, given) in &theirs {
        outcome.differences.extend(given.iter().map(|number| lacking(key, number, &made_tokens)));
    }
    outcome
}

/// A number as it is printed, with the value behind it.
fn told(number: &Number<'_>) -> String {
    format!("{} (value {})", plain(&number.shown), plain(number.value))
}

/// A number that the logs give and the page lacks.
fn lacking(key: &str, number: &Number<'_>, made: &[Token<'_>]) -> Difference {
    Difference { place: number.place.in_words(made), key: Some(key.to_owned()), page: None, logs: Some(told(number)) }
}
