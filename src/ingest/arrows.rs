//! Signs of a direction in a header: `→`, `<-`, `↺`. Which way they point depends on where one stands, so that none is read.

/// The signs of a direction in a text, each run of them as it is written.
///
/// Arrows and triangles of Unicode (blocks 2190, 25A0, 27F0, 2900, 2B00 and 1F800, and arrows among the dingbats), quotation marks that point, and `<`, `>`,
/// `^` with dashes beside them. A dash alone is none.
pub(super) fn arrows(text: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    if text.bytes().all(|byte| byte.is_ascii() && !matches!(byte, b'<' | b'>' | b'^')) {
        return found;
    }
    let (mut run, mut points) = (String::new(), false);
    for character in text.chars().chain([' ']) {
        let pointing = is_arrow(character);
        if pointing || matches!(character, '-' | '=' | '–' | '−') {
            run.push(character);
            points |= pointing;
            continue;
        }
        let sign = std::mem::take(&mut run);
        if std::mem::take(&mut points) {
            found.push(sign);
        }
    }
    found
}

/// Whether a word of a header is such a sign.
pub(super) fn is_sign(word: &str) -> bool {
    word.contains(is_arrow)
}

fn is_arrow(character: char) -> bool {
    matches!(
        character,
        '<' | '>'
            | '^'
            | '«'
            | '»'
            | '‹'
            | '›'
            | '\u{2190}'..='\u{21ff}'
            | '\u{25b2}'..='\u{25c5}'
            | '\u{261a}'..='\u{261f}'
            | '\u{2794}'
            | '\u{2798}'..='\u{27be}'
            | '\u{27f0}'..='\u{27ff}'
            | '\u{2900}'..='\u{297f}'
            | '\u{2b00}'..='\u{2bff}'
            | '\u{ffe9}'..='\u{ffec}'
            | '\u{1f446}'..='\u{1f449}'
            | '\u{1f800}'..='\u{1f8ff}'
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_found_whole_and_dashes_are_none() {
        for (text, signs) in [
            ("Pass 1 HS→", vec!["→"]),
            ("HS ->", vec!["->"]),
            ("<-- TS", vec!["<--"]),
            ("roll (mm/m) ↓rear", vec!["↓"]),
            ("turns ↺", vec!["↺"]),
            ("1 ← 2 ⇒", vec!["←", "⇒"]),
            ("pass 1 to-headstock", vec![]),
            ("turns (clockwise -)", vec![]),
            ("Ø (µm) = –", vec![]),
        ] {
            assert_eq!(arrows(text), signs, "{text}");
        }
    }
}
