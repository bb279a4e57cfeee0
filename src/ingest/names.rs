/// The name under which the files of a trial called `name` are written, without an ending.
///
/// Characters other than letters, digits, `.`, `_`, `-` become `-`. `index`, `summary`, `history` and the device names of Windows
/// get `-trial` appended; a name that would be hidden, empty or lose its end on some system is mended.
///
/// ```
/// # use taperwright::ingest::file_name_for;
/// assert_eq!(file_name_for("Quay Lathe 2: spring"), "Quay-Lathe-2--spring");
/// assert_eq!(file_name_for("index"), "index-trial");
/// assert_eq!(file_name_for("nul"), "nul-trial");
/// ```
#[must_use]
pub fn file_name_for(name: &str) -> String {
    let plain: String = name.trim().chars().map(|c| if c.is_alphanumeric() || matches!(c, '.' | '_' | '-') { c } else { '-' }).collect();
    let plain: String = plain.trim_matches('.').chars().take(100).collect();
    let plain = plain.trim_end_matches('.');
    if plain.is_empty() {
        return "trial".to_owned();
    }
    let lower = plain.to_lowercase();
    let (stem, dotted) = lower.split_once('.').map_or((lower.as_str(), false), |(stem, _)| (stem, true));
    if is_device(stem) {
        return format!("{}-trial", if dotted { plain.replacen('.', "-", 1) } else { plain.to_owned() });
    }
    if matches!(lower.as_str(), "index" | "summary" | "history") {
        return format!("{plain}-trial");
    }
    plain.to_owned()
}

fn is_device(stem: &str) -> bool {
    let port = |prefix: &str| {
        stem.strip_prefix(prefix).is_some_and(|rest| matches!(rest.as_bytes(), [b'0'..=b'9']) || matches!(rest, "¹" | "²" | "³"))
    };
    matches!(stem, "con" | "prn" | "aux" | "nul" | "conin$" | "conout$") || port("com") || port("lpt")
}
