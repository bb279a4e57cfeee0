//! Whole numbers as words of a sentence.

/// A number with its thousands apart by narrow no-break spaces (ISO 80000-1:2022, 7.3.2); one of four digits stays together, as numbers of the page do.
///
/// ```
/// # use taperwright::quantities::grouped;
/// assert_eq!((grouped(9_999), grouped(125_000)), ("9999".to_owned(), "125\u{202f}000".to_owned()));
/// ```
#[must_use]
pub fn grouped(number: usize) -> String {
    let digits = number.to_string();
    if digits.len() <= 4 {
        return digits;
    }
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}

/// `one`, `two` … `twelve`, else digits: for counts in sentences.
#[must_use]
pub fn counted(count: usize, one: &str, many: &str) -> String {
    const WORDS: [&str; 13] = ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    let noun = if count == 1 { one } else { many };
    WORDS.get(count).map_or_else(|| format!("{} {noun}", grouped(count)), |word| format!("{word} {noun}"))
}
