//! A source text with all its changes in place, each behind a switch: `(if crate::mutants::on(17) { a - b } else { a + b })`.
//!
//! One compilation serves all mutants ("mutant schemata": Untch, Offutt and Harrold 1993, from memory). What a switched branch holds is the
//! text as it was, since only one mutant is on at a time; so the text grows with the depth of nesting and not with its power.

use crate::operators::Site;
use std::ops::Range;

/// Where a mutant came to stand in the changed text.
#[derive(Debug, Clone)]
pub struct Placed {
    pub number: u32,
    /// Its own branch.
    pub branch: Range<usize>,
    /// The site with all its branches.
    pub site: Range<usize>,
}

/// A site with the number of each of its changes; `None` where a change is left out.
pub type Numbered<'a> = (&'a Site, Vec<Option<u32>>);

/// The changed text, and where each mutant stands in it. Sites are sorted by start, the widest first.
pub fn rewritten(text: &str, sites: &[Numbered]) -> (String, Vec<Placed>) {
    let mut writer = Writer { text, out: String::with_capacity(text.len() * 4), placed: Vec::new() };
    writer.range(0..text.len(), sites);
    (writer.out, writer.placed)
}

struct Writer<'a> {
    text: &'a str,
    out: String,
    placed: Vec<Placed>,
}

impl Writer<'_> {
    /// Writes the bytes of `whole`, in which exactly `sites` stand.
    fn range(&mut self, whole: Range<usize>, sites: &[Numbered]) {
        let mut at = whole.start;
        let mut next = 0;
        while let Some((site, numbers)) = sites.get(next) {
            self.out.push_str(&self.text[at..site.bytes.start]);
            let inside = sites[next + 1..].iter().take_while(|(other, _)| other.bytes.start < site.bytes.end).count();
            let start = self.out.len();
            let first = self.placed.len();
            let mut any = false;
            for (change, number) in site.changes.iter().zip(numbers) {
                let Some(number) = number else { continue };
                let word = match (site.is_body, any) {
                    (true, _) => " if",
                    (false, false) => "(if",
                    (false, true) => " else if",
                };
                self.out.push_str(&format!("{word} crate::mutants::on({number}) {{ "));
                let branch = self.out.len();
                if site.is_body {
                    self.out.push_str(&format!("return {};", change.replacement));
                } else {
                    self.out.push_str(&change.replacement);
                }
                self.placed.push(Placed { number: *number, branch: branch..self.out.len(), site: start..start });
                self.out.push_str(" }");
                any = true;
            }
            if any && !site.is_body {
                self.out.push_str(" else { ");
            }
            let last = self.placed.len();
            self.range(site.bytes.clone(), &sites[next + 1..next + 1 + inside]);
            if any && !site.is_body {
                self.out.push_str(" })");
            }
            let end = self.out.len();
            self.placed[first..last].iter_mut().for_each(|placed| placed.site = start..end);
            at = site.bytes.end;
            next += 1 + inside;
        }
        self.out.push_str(&self.text[at..whole.end]);
    }
}

#[cfg(test)]
mod tests {
    use super::rewritten;
    use crate::operators::sites;

    /// The text with mutant `number` of it as the compiler would see it: what its branch holds, between what stands around its site.
    fn all(text: &str) -> (Vec<(String, String)>, String) {
        let found = sites(text).unwrap();
        let mut number = 0;
        let mut count = || {
            number += 1;
            Some(number)
        };
        let numbered: Vec<_> = found.iter().map(|site| (site, site.changes.iter().map(|_| count()).collect())).collect();
        let (changed, placed) = rewritten(text, &numbered);
        syn::parse_file(&changed).unwrap();
        let branches = placed.iter().map(|placed| changed[placed.branch.clone()].to_owned());
        let mut told: Vec<String> = Vec::new();
        numbered.iter().for_each(|(site, _)| told.extend(site.changes.iter().map(|change| format!("{}: {}", site.function, change.told))));
        let mut branches: Vec<(u32, String)> = placed.iter().map(|placed| placed.number).zip(branches).collect();
        branches.sort();
        (told.into_iter().zip(branches.into_iter().map(|(_, text)| text)).collect(), changed)
    }

    #[test]
    fn every_operator_of_a_small_text_is_changed_and_nested_ones_keep_the_text_as_it_was() {
        let (found, changed) = all("impl A { fn f(a: f64) -> bool { let b = -a + 2.0 * a; !(b < 1.0) && a > 0.0 } }");
        let expected = [
            ("A::f: → true", "return true;"),
            ("A::f: → false", "return false;"),
            ("A::f: + → -", "(-a) - (2.0 * a)"),
            ("A::f: - deleted", "(a)"),
            ("A::f: * → /", "(2.0) / (a)"),
            ("A::f: && → ||", "(!(b < 1.0)) || (a > 0.0)"),
            ("A::f: ! deleted", "((b < 1.0))"),
            ("A::f: < → <=", "(b) <= (1.0)"),
            ("A::f: < → >=", "(b) >= (1.0)"),
            ("A::f: > → >=", "(a) >= (0.0)"),
            ("A::f: > → <=", "(a) <= (0.0)"),
        ];
        let expected: Vec<(String, String)> = expected.iter().map(|(told, text)| ((*told).to_owned(), (*text).to_owned())).collect();
        assert_eq!(found, expected);
        assert!(changed.contains("else { (if crate::mutants::on(4) { (a) } else { -a }) + (if crate::mutants::on(5)"), "{changed}");
    }

    #[test]
    fn tests_constants_patterns_macros_and_chains_with_let_stay() {
        let text = "const N: usize = 2 + 1;
            #[cfg(test)] mod tests { fn g() -> f64 { 1.0 + 2.0 } }
            const fn h() -> usize { 1 + 1 }
            fn f(a: Option<i32>) { if let Some(1..=3 | -1) = a && N > 2 { println!(\"{}\", 1 - 2); let _ = [0; N + 1]; } }";
        let told: Vec<String> = all(text).0.into_iter().map(|(told, _)| told).collect();
        assert_eq!(told, ["f: → ()", "f: > → >=", "f: > → <="]);
    }
}
