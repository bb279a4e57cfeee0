//! Signs of a direction in a header: `→`, `<-`, `↺`. Which way they point depends on where one stands, so that none is read.

/// The signs of a direction in a text, each run of them as it is written.
///
/// Arrows and triangles of Unicode (blocks 2190, 25A0, 27F0, 2900, 2B00 and 1F800, and arrows among the dingbats); `<`, `>`, `^` and quotation marks that
/// point where dashes stand beside them, as in `->`. Alone these are brackets, quotes or comparisons, and `>=` is one too; a dash alone is none. `Pass 1 →
/// headstock`, an arrow to the right and then the whole word for the goal, has one meaning: it holds none either.
pub(in crate::ingest) fn arrows(text: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    if text.bytes().all(|byte| byte.is_ascii() && !matches!(byte, b'<' | b'>' | b'^')) {
        return found;
    }
    let mut run = String::new();
    let (mut before, mut behind) = (text.len(), text.len());
    for (at, character) in text.char_indices().chain([(text.len(), ' ')]) {
        if is_arrow(character) || is_dash(character) {
            run.push(character);
            continue;
        }
        let sign = std::mem::take(&mut run);
        let is_drawn = sign.contains(is_dash) && sign != ">=";
        if sign.contains(|c: char| is_arrow(c) && (is_drawn || !is_angle(c))) {
            (before, behind) = (at.saturating_sub(sign.len()), at);
            found.push(sign);
        }
    }
    let names_goal = |sign: &str| {
        let pass = text.get(..before).is_some_and(is_pass_name);
        let goal = text.get(behind..).unwrap_or_default().trim_start().split(|c: char| !c.is_alphanumeric()).next();
        pass && is_to_the_right(sign) && goal.is_some_and(|goal| matches!(goal.to_lowercase().as_str(), "headstock" | "tailstock"))
    };
    if let [sign] = found.as_slice()
        && names_goal(sign)
    {
        found.clear();
    }
    found
}

/// Whether a text names a pass by its number and says no more: `Pass 1`, `2 (`.
fn is_pass_name(text: &str) -> bool {
    let words = || text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).map(str::to_lowercase);
    let is_name = |word: &str| {
        let number = word.trim_start_matches("pass").trim_start_matches("cut").trim_start_matches('p');
        number.bytes().all(|byte| byte.is_ascii_digit())
    };
    words().any(|word| word.ends_with(|c: char| c.is_ascii_digit())) && words().all(|word| is_name(&word))
}

fn is_to_the_right(sign: &str) -> bool {
    let angle = sign.ends_with('>') && !sign.contains(['<', '^']) && sign.matches('>').count() == 1;
    angle || matches!(sign, "→" | "⇒" | "⇨" | "⟶" | "⟹" | "➔" | "➙" | "➜" | "➝" | "➞" | "➡")
}

fn is_dash(character: char) -> bool {
    matches!(character, '-' | '=' | '–' | '−')
}

/// Whether a character points, and has another use too.
fn is_angle(character: char) -> bool {
    matches!(character, '<' | '>' | '^' | '«' | '»' | '‹' | '›')
}

/// Whether a word of a header is such a sign.
pub(in crate::ingest) fn is_sign(word: &str) -> bool {
    word.contains(is_arrow)
}

fn is_arrow(character: char) -> bool {
    is_angle(character)
        || matches!(
                character,
                '\u{2190}'..='\u{21ff}'
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
            ("station <mm>", vec![]),
            ("«Diameter» ^ >= 40", vec![]),
            ("HS => TS", vec!["=>"]),
            ("Pass 1 → headstock", vec![]),
            ("pass1 -> Tailstock (mm)", vec![]),
            ("2 (⇒ headstock)", vec![]),
            ("Pass 1 → HS", vec!["→"]),
            ("Pass 1 ← headstock", vec!["←"]),
            ("Pass 1 <- headstock", vec!["<-"]),
            ("Pass 1 headstock →", vec!["→"]),
            ("Pass 1 headstock → tailstock", vec!["→"]),
            ("Pass 1 → headstock → tailstock", vec!["→", "→"]),
            ("Pass 1 → headstocks", vec!["→"]),
            ("Station → headstock", vec!["→"]),
        ] {
            assert_eq!(arrows(text), signs, "{text}");
        }
    }
}
