use super::super::bounds::MOST_CELL;
use super::super::words::advice;
use super::document::Value;
use super::keys::{Key, KeyKind, Sign};
use crate::quantities::{MM_PER_INCH, celsius_from_fahrenheit, kelvin_from_fahrenheit_difference};
use toml::de::DeValue;

/// Code and advice of a value that is not right.
pub(super) type Fault = (&'static str, String);

fn wrong_type(wanted: &str) -> Fault {
    ("wrong-type", format!("write {wanted}"))
}

/// The value of a key, brought to its metric unit.
pub(super) fn convert(key: &Key, inch: bool, value: &DeValue<'_>) -> Result<Value, Fault> {
    Ok(match key.kind {
        KeyKind::Text => Value::Text(text(value, "text in double quotes")?),
        KeyKind::Date => Value::Text(date(value)?),
        KeyKind::Flag => Value::Flag(value.as_bool().ok_or_else(|| wrong_type("true or false"))?),
        KeyKind::Whole { least } => {
            let whole = value.as_integer().and_then(|i| u32::from_str_radix(i.as_str(), i.radix()).ok()).filter(|whole| *whole >= least);
            Value::Number(f64::from(whole.ok_or_else(|| ("not-whole", format!("write a whole number from {least}")))?))
        }
        KeyKind::Number(sign) => Value::Number(signed(number(value)?, sign)?),
        KeyKind::Length(sign) | KeyKind::Feed(sign) => Value::Number(signed(number(value)?, sign)? * if inch { MM_PER_INCH } else { 1.0 }),
        KeyKind::Slope(sign) => Value::Number(signed(number(value)?, sign)? * if inch { 1000.0 / 12.0 } else { 1.0 }),
        KeyKind::Temperature => {
            let stated = number(value)?;
            let celsius = if inch { celsius_from_fahrenheit(stated) } else { stated };
            if !(-50.0..=100.0).contains(&celsius) {
                return Err(("out-of-range", "write the temperature of the room, between -50 and 100 °C".to_owned()));
            }
            Value::Number(celsius)
        }
        KeyKind::TemperatureDifference => {
            let stated = signed(number(value)?, Sign::NotNegative)?;
            Value::Number(if inch { kelvin_from_fahrenheit_difference(stated) } else { stated })
        }
        KeyKind::Pitch => {
            let stated = signed(number(value)?, Sign::Positive)?;
            Value::Number(if inch { MM_PER_INCH / stated } else { stated })
        }
        KeyKind::Numbers(sign) => Value::Numbers(numbers(value, false, sign, "a list of numbers, such as [0.0, 180.0]")?),
        KeyKind::Lengths(sign) => Value::Numbers(numbers(value, inch, sign, "a list of lengths, such as [5.0, 100.0, 195.0]")?),
        KeyKind::Feeds(sign) => Value::Numbers(numbers(value, inch, sign, "a list of feeds, such as [0.1, 0.2]")?),
        KeyKind::Spans => {
            let wanted = "a list of pairs, such as [[5.0, 25.0], [190.0, 210.0]]";
            let array = value.as_array().ok_or_else(|| wrong_type(wanted))?;
            let spans = array.iter().map(|item| match numbers(item.get_ref(), inch, Sign::NotNegative, wanted)?.as_slice() {
                [from, to] if from < to => Ok([*from, *to]),
                [_, _] => Err(("span-order", "write each pair as [from, to], the smaller first".to_owned())),
                _ => Err(wrong_type(wanted)),
            });
            Value::Spans(spans.collect::<Result<_, Fault>>()?)
        }
        KeyKind::Word(known) => Value::Text(word(value, known)?),
        KeyKind::Words(known) => {
            let array = value.as_array().ok_or_else(|| wrong_type("a list of words in double quotes"))?;
            Value::Words(array.iter().map(|item| word(item.get_ref(), known)).collect::<Result<_, Fault>>()?)
        }
    })
}

fn numbers(value: &DeValue<'_>, inch: bool, sign: Sign, wanted: &str) -> Result<Vec<f64>, Fault> {
    let factor = if inch { MM_PER_INCH } else { 1.0 };
    let array = value.as_array().ok_or_else(|| wrong_type(wanted))?;
    array.iter().map(|item| Ok(signed(number(item.get_ref())?, sign)? * factor)).collect()
}

fn text(value: &DeValue<'_>, wanted: &str) -> Result<String, Fault> {
    let text = value.as_str().map(str::trim).ok_or_else(|| wrong_type(wanted))?;
    if text.len() > MOST_CELL {
        return Err(("text-too-long", format!("write at most {MOST_CELL} bytes: this text has {}", text.len())));
    }
    Ok(text.to_owned())
}

fn word(value: &DeValue<'_>, known: &[&str]) -> Result<String, Fault> {
    let word = text(value, &format!("one of {} in double quotes", known.join(", ")))?;
    if known.contains(&word.as_str()) { Ok(word) } else { Err(("unknown-word", advice(&word, known))) }
}

fn date(value: &DeValue<'_>) -> Result<String, Fault> {
    let written = match value {
        DeValue::Datetime(datetime) => datetime.date.map(|date| date.to_string()),
        DeValue::String(text) => Some(text.trim().to_owned()),
        _ => None,
    };
    let date = written.as_deref().and_then(|text| text.parse::<jiff::civil::Date>().ok());
    date.map(|date| date.to_string()).ok_or_else(|| ("not-a-date", day(written.as_deref().unwrap_or_default())))
}

/// How a day written as `2026-3-14`, `14-03-2026` or `14/3/2026` is to be written; how days are written at all where the text is none.
pub(super) fn day(text: &str) -> String {
    let usual = || "write a day as 2026-03-14".to_owned();
    let parts: Vec<&str> = text.trim().split(['-', '.', '/']).collect();
    let [first, second, third] = parts.as_slice() else { return usual() };
    let number = |text: &str| text.parse::<i8>().ok();
    let (year, month, day) = if first.len() == 4 { (first, second, third) } else { (third, second, first) };
    let Some(year) = year.parse::<i16>().ok().filter(|_| year.len() == 4) else { return usual() };
    let (Some(month), Some(day)) = (number(month), number(day)) else { return usual() };
    let date = |month: i8, day: i8| jiff::civil::Date::new(year, month, day).ok();
    let other = date(day, month).filter(|_| first.len() != 4 && day != month);
    match (date(month, day), other) {
        (Some(date), Some(other)) => format!("write {date}, or {other} if the month stands first"),
        (Some(date), None) | (None, Some(date)) => format!("write {date}"),
        (None, None) => "there is no such day: write one as 2026-03-14".to_owned(),
    }
}

fn number(value: &DeValue<'_>) -> Result<f64, Fault> {
    let number = match value {
        #[allow(clippy::cast_precision_loss, reason = "a setting beyond 2^53 is rounded as a float would be")]
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok().map(|whole| whole as f64),
        DeValue::Float(float) => float.as_str().parse().ok(),
        DeValue::String(text) if text.trim().parse::<f64>().is_ok() => return Err(wrong_type("the number without quotes")),
        _ => None,
    };
    let number = number.ok_or_else(|| wrong_type("a number, with a decimal point"))?;
    if number.is_finite() { Ok(number) } else { Err(("not-finite", "write a finite number".to_owned())) }
}

/// A number with the right sign and of a size that something can have.
fn signed(number: f64, sign: Sign) -> Result<f64, Fault> {
    let (right, code, help) = match sign {
        Sign::Any => (true, "", ""),
        Sign::NotNegative => (number >= 0.0, "negative", "write a number of 0 or more"),
        Sign::Positive => (number > 0.0, "not-positive", "write a number above 0"),
        Sign::Fraction => ((0.0..=1.0).contains(&number), "out-of-range", "write a number from 0 to 1"),
        Sign::Factor => (number >= 1.0, "out-of-range", "write a factor of 1 or more"),
    };
    if !right {
        return Err((code, help.to_owned()));
    }
    if number != 0.0 && !(1e-9..=1e7).contains(&number.abs()) {
        return Err(("out-of-range", "nothing here is that large or small: mend the number".to_owned()));
    }
    Ok(number)
}
