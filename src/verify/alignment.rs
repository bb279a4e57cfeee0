//! Which tokens of two pages belong to each other.

use super::tokens::Token;
use std::ops::Range;

/// Most insertions and deletions that are followed one by one.
const MOST_EDITS: usize = 1_500;

/// A stretch of the one page that stands where the other page has another stretch; either may be empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// Tokens of the page.
    pub page: Range<usize>,
    /// Tokens of the page made again.
    pub made: Range<usize>,
}

/// The stretches in which two pages differ, in their order; one long stretch where they differ too much to be followed.
///
/// Tokens of the same number are compared one to one where the pages are equally long; otherwise by the shortest list of insertions and
/// deletions (Myers 1986, An O(ND) difference algorithm and its variations, Algorithmica 1, 251–266).
#[must_use]
pub fn stretches(page: &[Token<'_>], made: &[Token<'_>]) -> Vec<Stretch> {
    let head = page.iter().zip(made).take_while(|(a, b)| a == b).count();
    let most = page.len().min(made.len()) - head;
    let tail = page.iter().rev().zip(made.iter().rev()).take(most).take_while(|(a, b)| a == b).count();
    let (a, b) = (head..page.len() - tail, head..made.len() - tail);
    if a.is_empty() && b.is_empty() {
        return Vec::new();
    }
    let (Some(page), Some(made)) = (page.get(a.clone()), made.get(b.clone())) else { return Vec::new() };
    let kept = if page.len() == made.len() {
        Some((0..page.len()).filter(|index| page.get(*index) == made.get(*index)).map(|index| (index, index)).collect())
    } else {
        kept(page, made)
    };
    let Some(kept) = kept else { return vec![Stretch { page: a, made: b }] };
    between(&kept, page.len(), made.len())
        .map(|stretch| Stretch {
            page: stretch.page.start + head..stretch.page.end + head,
            made: stretch.made.start + head..stretch.made.end + head,
        })
        .collect()
}

/// What lies between pairs of tokens that were kept.
fn between(kept: &[(usize, usize)], page: usize, made: usize) -> impl Iterator<Item = Stretch> {
    let mut last = (0, 0);
    let ends: Vec<(usize, usize)> = kept.iter().copied().chain([(page, made)]).collect();
    ends.into_iter().filter_map(move |(a, b)| {
        let stretch = Stretch { page: last.0..a, made: last.1..b };
        last = (a + 1, b + 1);
        (!stretch.page.is_empty() || !stretch.made.is_empty()).then_some(stretch)
    })
}

/// Pairs of equal tokens of a shortest edit script, in order; `None` beyond [`MOST_EDITS`].
fn kept(a: &[Token<'_>], b: &[Token<'_>]) -> Option<Vec<(usize, usize)>> {
    let (n, m) = (a.len() as isize, b.len() as isize);
    let most = MOST_EDITS.min(a.len() + b.len()) as isize;
    let at = |furthest: &[isize], k: isize| furthest.get((k + most + 1) as usize).copied().unwrap_or(-1);
    let mut furthest = vec![-1_isize; 2 * most as usize + 3];
    if let Some(start) = furthest.get_mut((most + 2) as usize) {
        *start = 0;
    }
    let mut trace: Vec<Vec<isize>> = Vec::new();
    for d in 0..=most {
        // only the diagonals that a later step can look at are kept
        trace.push((-d - 1..=d + 1).map(|k| at(&furthest, k)).collect());
        for k in (-d..=d).step_by(2) {
            let down = k == -d || (k != d && at(&furthest, k - 1) < at(&furthest, k + 1));
            let mut x = if down { at(&furthest, k + 1) } else { at(&furthest, k - 1) + 1 };
            while x >= 0 && x < n && x - k >= 0 && x - k < m && a.get(x as usize) == b.get((x - k) as usize) {
                x += 1;
            }
            if let Some(slot) = furthest.get_mut((k + most + 1) as usize) {
                *slot = x;
            }
            if x >= n && x - k >= m {
                return Some(walk_back(&trace, d, n, m));
            }
        }
    }
    None
}

fn walk_back(trace: &[Vec<isize>], edits: isize, n: isize, m: isize) -> Vec<(usize, usize)> {
    let (mut x, mut y) = (n, m);
    let mut pairs = Vec::new();
    for d in (0..=edits).rev() {
        let Some(furthest) = trace.get(d as usize) else { break };
        let at = |k: isize| furthest.get((k + d + 1) as usize).copied().unwrap_or(-1);
        let k = x - y;
        let from = if k == -d || (k != d && at(k - 1) < at(k + 1)) { k + 1 } else { k - 1 };
        let (before_x, before_y) = if d == 0 { (0, 0) } else { (at(from), at(from) - from) };
        while x > before_x && y > before_y {
            (x, y) = (x - 1, y - 1);
            pairs.push((x as usize, y as usize));
        }
        (x, y) = (before_x, before_y);
    }
    pairs.reverse();
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(letters: &str) -> Vec<Token<'_>> {
        letters.split("").filter(|letter| !letter.is_empty()).map(Token::Text).collect()
    }

    fn found(page: &str, made: &str) -> Vec<(String, String)> {
        let (page, made) = (texts(page), texts(made));
        let joined = |tokens: &[Token<'_>], range: Range<usize>| tokens[range].iter().map(|token| token.text()).collect::<String>();
        stretches(&page, &made).into_iter().map(|each| (joined(&page, each.page), joined(&made, each.made))).collect()
    }

    #[test]
    fn stretches_are_where_the_pages_differ() {
        let pair = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        assert_eq!(found("abcdef", "abcdef"), []);
        assert_eq!(found("abXdef", "abcdef"), [pair("X", "c")]);
        assert_eq!(found("abXdeYf", "abcdeZf"), [pair("X", "c"), pair("Y", "Z")]);
        assert_eq!(found("abdef", "abcdef"), [pair("", "c")]);
        assert_eq!(found("abcdefgXh", "abdefgYh"), [pair("c", ""), pair("X", "Y")]);
        assert_eq!(found("", "ab"), [pair("", "ab")]);
        assert_eq!(found("aab", "ab"), [pair("a", "")]);
        assert_eq!(found("pqrs", ""), [pair("pqrs", "")]);
    }

    #[test]
    fn kept_and_differing_parts_give_both_pages_back() {
        // all pairs of words over two letters up to length five
        let words: Vec<String> = (1..=5_u32)
            .flat_map(|length| {
                (0..1_u32 << length).map(move |bits| (0..length).map(|place| if bits >> place & 1 == 1 { 'a' } else { 'b' }).collect())
            })
            .collect();
        for one in &words {
            for other in &words {
                let (page, made) = (texts(one), texts(other));
                let (mut x, mut y) = (0, 0);
                for stretch in stretches(&page, &made) {
                    assert_eq!(page[x..stretch.page.start], made[y..stretch.made.start], "{one} {other}");
                    (x, y) = (stretch.page.end, stretch.made.end);
                }
                assert_eq!(page[x..], made[y..], "{one} {other}");
            }
        }
    }
}
