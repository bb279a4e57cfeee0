//! The words and signs of a header's cell.

/// A header without the typographic quotation marks around it.
pub(in crate::ingest) fn unquoted(text: &str) -> &str {
    let inside = text.strip_prefix(['“', '„', '”']).and_then(|rest| rest.strip_suffix(['”', '“']));
    inside.filter(|inside| !inside.contains(['“', '„', '”'])).map_or(text, str::trim)
}

/// Whether a minus sign stands in a header: at an end of it or of a bracket, beside `=`, or before or behind a word; `+/-` and a hyphen are none.
pub(in crate::ingest) fn has_minus(text: &str) -> bool {
    const DASHES: [char; 3] = ['-', '−', '–'];
    if !text.contains(DASHES) {
        return false;
    }
    let mut spaced = String::with_capacity(2 * text.len());
    for character in text.chars() {
        match character {
            '=' | ',' | ';' | ':' => spaced.extend([' ', character, ' ']),
            '(' | '[' | '{' => spaced.push_str(" ( "),
            ')' | ']' | '}' => spaced.push_str(" ) "),
            _ => spaced.push(character),
        }
    }
    let tokens: Vec<&str> = spaced.split_whitespace().collect();
    let beside =
        |index: Option<usize>, known: &[&str]| index.and_then(|index| tokens.get(index)).is_some_and(|token| known.contains(token));
    (0..).zip(&tokens).any(|(index, token): (usize, &&str)| {
        if token.trim_matches(DASHES).is_empty() {
            let (before, behind) = (index.checked_sub(1), Some(index + 1));
            return index + 1 == tokens.len() || beside(before, &["=", "(", ","]) || beside(behind, &["=", ")", ","]);
        }
        !token.contains(['/', '+', '±']) && (token.starts_with(DASHES) || token.ends_with(DASHES))
    })
}

/// The words of a text, lower case: a letter that begins a word in the middle parts it, `"` is `in`, `/` is `per`, `°` is `deg`, a `#` alone `no`.
pub(in crate::ingest) fn words(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut word = String::new();
    let mut before = ' ';
    let flush = |word: &mut String, out: &mut Vec<String>| {
        if !word.is_empty() {
            out.push(std::mem::take(word));
        }
    };
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        let behind = characters.peek().copied().unwrap_or(' ');
        let named = match character {
            '"' | '″' | '”' | '“' => Some("in"),
            '/' => Some("per"),
            '°' => Some("deg"),
            '#' if !behind.is_alphanumeric() => Some("no"),
            _ => None,
        };
        if let Some(named) = named {
            flush(&mut word, &mut out);
            out.push(named.to_owned());
        } else if character == '.' && before.is_ascii_digit() && behind.is_ascii_digit() {
            word.push(character);
        } else if character.is_alphanumeric() || character == '⌀' {
            if before.is_lowercase() && character.is_uppercase() {
                flush(&mut word, &mut out);
            }
            word.extend(character.to_lowercase());
        } else {
            flush(&mut word, &mut out);
        }
        before = character;
    }
    flush(&mut word, &mut out);
    out
}
