/// Which mark stands between whole and fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum DecimalMark {
    Point,
    Comma,
}

/// Why a cell is no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NumberFault {
    /// Not written as a number.
    NotANumber,
    /// Infinite, not-a-number, or too large.
    NotFinite,
    /// Digits grouped in thousands.
    Thousands,
    /// A unit that is not the column's.
    OtherUnit,
    /// The other decimal mark than the rest of the file uses.
    OtherMark,
    /// A date, as spreadsheet programs make of some numbers.
    Date,
    /// A fraction, as in `1 1/2`.
    Fraction,
    /// A sign with a gap behind it, as in `- 0.04`.
    Gap,
}

/// First letters of months' names in the languages that spreadsheet programs are often set to.
const MONTHS: [&str; 32] = [
    "jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec", "jän", "mär", "mrz", "mai", "okt", "dez", "fév",
    "avr", "jui", "aoû", "déc", "ene", "abr", "ago", "dic", "gen", "mag", "giu", "lug", "ott",
];

/// Whether a text is a date: `2026-05-20`, `20-May`, `20.05.2026`, `Mai 20`.
pub(super) fn is_date(text: &str) -> bool {
    let parts: Vec<&str> = text.split(['-', '/', '.', ' ', 'T']).filter(|part| !part.is_empty()).collect();
    let digits = |part: &&str| part.bytes().all(|byte| byte.is_ascii_digit());
    let is_month = |part: &&str| {
        let head: String = part.chars().take(3).flat_map(char::to_lowercase).collect();
        part.chars().all(char::is_alphabetic) && MONTHS.contains(&head.as_str())
    };
    match parts.as_slice() {
        [a, b] => (digits(a) && is_month(b)) || (is_month(a) && digits(b)),
        [a, b, c, ..] => {
            digits(a)
                && digits(c)
                && (digits(b) || is_month(b))
                && [a, c].iter().any(|part| matches!(part.len(), 2 | 4))
                && a.len() + c.len() <= 6
        }
        _ => false,
    }
}

/// The number that `text` writes, without a unit.
///
/// Blanks around it, a leading `+` and the typographic minus sign are forgiven.
pub(super) fn parse_number(text: &str, mark: DecimalMark) -> Result<f64, NumberFault> {
    let text = text.trim();
    let plain = text.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-' | b'+' | b'e' | b'E'));
    if plain && (mark == DecimalMark::Point || !text.contains('.')) {
        return parse_plain(text);
    }
    parse_untidy(text, mark)
}

fn parse_plain(text: &str) -> Result<f64, NumberFault> {
    let value = lexical_core::parse::<f64>(text.as_bytes()).map_err(|_| NumberFault::NotANumber)?;
    if value.is_finite() { Ok(value) } else { Err(NumberFault::NotFinite) }
}

fn parse_untidy(text: &str, mark: DecimalMark) -> Result<f64, NumberFault> {
    let lower = text.to_lowercase();
    if matches!(lower.trim_start_matches(['+', '-', '−']), "inf" | "infinity" | "nan" | "∞" | "#nan" | "1.#inf" | "1.#ind") {
        return Err(NumberFault::NotFinite);
    }
    let tidy: String = text.chars().map(|c| if c == '−' || c == '–' { '-' } else { c }).collect();
    if as_fraction(&tidy).is_some() {
        return Err(NumberFault::Fraction);
    }
    if let Some(rest) = tidy.strip_prefix(['-', '+']).filter(|rest| rest.starts_with(char::is_whitespace))
        && parse_plain(&rest.trim().replace(',', ".")).is_ok()
    {
        return Err(NumberFault::Gap);
    }
    let commas = tidy.matches(',').count();
    let points = tidy.matches('.').count();
    if is_grouped(&tidy) || (commas > 0 && points > 0) || commas > 1 {
        let digits: String = tidy.chars().filter(|c| c.is_ascii_digit() || *c == '-').collect();
        return Err(if parse_plain(&digits).is_ok() && !tidy.chars().any(char::is_alphabetic) {
            NumberFault::Thousands
        } else {
            NumberFault::NotANumber
        });
    }
    let wrong_mark = match mark {
        DecimalMark::Point => commas > 0,
        DecimalMark::Comma => points > 0,
    };
    let value = parse_plain(&tidy.replace(',', "."))?;
    if wrong_mark { Err(NumberFault::OtherMark) } else { Ok(value) }
}

/// Whether digits are grouped by blanks or apostrophes, as in `1 234` or `1'234`.
fn is_grouped(text: &str) -> bool {
    text.contains(|c: char| c.is_whitespace() || c == '\'' || c == '’') && text.starts_with(|c: char| c.is_ascii_digit() || c == '-')
}

/// Fractions that are one sign.
const FRACTIONS: [(char, &str); 13] = [
    ('½', "1/2"),
    ('¼', "1/4"),
    ('¾', "3/4"),
    ('⅛', "1/8"),
    ('⅜', "3/8"),
    ('⅝', "5/8"),
    ('⅞', "7/8"),
    ('⅓', "1/3"),
    ('⅔', "2/3"),
    ('⅕', "1/5"),
    ('⅖', "2/5"),
    ('⅗', "3/5"),
    ('⅘', "4/5"),
];

/// The number that a fraction writes: 1.5 of `1 1/2`, `1-1/2`, `3/2` and `1½`.
pub(super) fn as_fraction(text: &str) -> Option<f64> {
    if !text.is_ascii()
        && let Some((at, (_, parts))) = text.char_indices().find_map(|(at, c)| Some((at, FRACTIONS.iter().find(|(sign, _)| *sign == c)?)))
    {
        let (whole, behind) = (text.get(..at)?, text.get(at..)?.chars().skip(1).collect::<String>());
        return as_fraction(&format!("{} {parts}{behind}", if whole.trim().is_empty() { "0" } else { whole.trim() }));
    }
    let (above, below) = text.trim().split_once('/')?;
    let (whole, above) = above.trim().rsplit_once([' ', '-']).unwrap_or(("0", above));
    let number = |text: &str| text.trim().parse::<u32>().ok().filter(|number| *number < 100_000).map(f64::from);
    let below = number(below).filter(|below| *below > 0.0)?;
    Some(number(whole)? + number(above)? / below)
}

/// The digits of a number of four to six digits whose thousands are grouped by this mark: `1100` of `1.100`.
pub(super) fn as_thousands(text: &str, mark: DecimalMark) -> Option<String> {
    let (before, behind) = text.trim().split_once(if mark == DecimalMark::Comma { ',' } else { '.' })?;
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let grouped = (1..=3).contains(&before.len()) && behind.len() == 3 && digits(before) && digits(behind) && !before.starts_with('0');
    grouped.then(|| format!("{before}{behind}"))
}

/// Digits after the decimal mark: 3 for `38.012`. `None` for a number with an exponent.
pub(super) fn decimals(text: &str) -> Option<u32> {
    let digits = text.trim().split_once(['.', ',']).map_or("", |(_, fraction)| fraction);
    if digits.bytes().all(|byte| byte.is_ascii_digit()) { u32::try_from(digits.len()).ok() } else { None }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fractions_and_grouped_thousands_are_known() {
        for (text, number) in [("1 1/2", 1.5), ("1/2", 0.5), ("7-3/4", 7.75), ("8 1/4 ", 8.25), ("4½", 4.5), ("2 ¼", 2.25), ("⅝", 0.625)]
        {
            assert!((as_fraction(text).unwrap() - number).abs() < 1e-12, "{text}");
        }
        for other in ["1/0", "5/20/26", "mm/m", "1.5", "/2", "1 1/2 in"] {
            assert_eq!(as_fraction(other), None, "{other}");
        }
        assert_eq!(as_thousands("1.100", DecimalMark::Point).as_deref(), Some("1100"));
        assert_eq!(as_thousands("38,021", DecimalMark::Comma).as_deref(), Some("38021"));
        for other in ["1.100", "0,021", "1,1", "1000,021", "1,100,000", "1,1OO"] {
            assert_eq!(as_thousands(other, DecimalMark::Comma), None, "{other}");
        }
    }

    #[test]
    fn a_gap_behind_a_sign_is_no_group_of_thousands() {
        for (text, mark) in [("- 0.04", DecimalMark::Point), ("+ 3", DecimalMark::Point), ("− 0,04", DecimalMark::Comma)] {
            assert_eq!(parse_number(text, mark), Err(NumberFault::Gap), "{text}");
        }
        assert_eq!(parse_number("1 234", DecimalMark::Point), Err(NumberFault::Thousands));
        assert_eq!(parse_number("- x", DecimalMark::Point), Err(NumberFault::NotANumber));
        assert_eq!(parse_number("-0.04", DecimalMark::Point), Ok(-0.04));
    }

    #[test]
    fn dates_are_told_from_other_texts() {
        for date in ["2026-05-20", "20-May", "01.Mai", "Mai 20", "20.05.2026", "5/20/26", "2026-05-20T10:30:00"] {
            assert!(is_date(date), "{date}");
        }
        for other in ["38.012", "38,012", "38 mm", "38 abc", "1.234.567", "-", "n/a", "12 thou", "to-headstock"] {
            assert!(!is_date(other), "{other}");
        }
    }
}
