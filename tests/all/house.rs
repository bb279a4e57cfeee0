//! The house keeps its own rules: which folder may import which, and nothing left lying about.

use std::fs;
use std::path::{Path, PathBuf};

/// The folders of `src`; a folder imports only from those before it.
const HOUSE: [&str; 18] = [
    "quantities",
    "findings",
    "trial",
    "ingest",
    "physics",
    "simulate",
    "statistics",
    "shape",
    "causes",
    "conformity",
    "correction",
    "plan",
    "analysis",
    "history",
    "report",
    "output",
    "verify",
    "cli",
];

/// The folder that knows no lathe: of those before it, it may use only the first.
const KNOWS_NO_LATHE: &str = "statistics";

fn rank(folder: &str) -> Option<usize> {
    HOUSE.iter().position(|known| *known == folder)
}

/// The text without comments (doc examples are written as an outsider's code) and without what quotes hold.
fn code_of(text: &str) -> String {
    let mut code = String::new();
    for line in text.lines() {
        let mut quoted = false;
        let mut before = ' ';
        let mut letters = line.chars().peekable();
        while let Some(letter) = letters.next() {
            if letter == '"' && before != '\\' && before != '\'' {
                quoted = !quoted;
            }
            if !quoted && letter == '/' && letters.peek() == Some(&'/') {
                break;
            }
            code.push(if quoted { ' ' } else { letter });
            before = letter;
        }
        code.push('\n');
    }
    code
}

fn leading_word(text: &str) -> &str {
    let end = text.find(|letter: char| !(letter.is_alphanumeric() || letter == '_')).unwrap_or(text.len());
    &text[..end]
}

/// The first names of a path's tail: one, or those of a braced list, `{a::{b, c}, d}` giving `a` and `d`.
fn heads(tail: &str) -> Vec<String> {
    let tail = tail.trim_start();
    let Some(list) = tail.strip_prefix('{') else {
        return vec![leading_word(tail).to_owned()];
    };
    let mut names = Vec::new();
    let mut depth = 0;
    let mut at_start = true;
    for (place, letter) in list.char_indices() {
        match letter {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => at_start = true,
            _ if at_start && !letter.is_whitespace() => {
                names.push(leading_word(&list[place..]).to_owned());
                at_start = false;
            }
            _ => {}
        }
    }
    names
}

/// Folders of the house that `text` names, by `crate::…` or by enough `super::` to reach the root from a module `depth` levels below it.
fn folders_named(text: &str, depth: usize) -> Vec<String> {
    let code = code_of(text);
    let mut roots = vec!["crate::".to_owned(), "taperwright::".to_owned()];
    if depth > 0 {
        roots.push("super::".repeat(depth));
    }
    let mut named = Vec::new();
    for root in roots {
        for (place, _) in code.match_indices(&root) {
            let before = code[..place].chars().next_back();
            if before.is_some_and(|letter| letter.is_alphanumeric() || letter == '_' || letter == ':') {
                continue;
            }
            named.extend(heads(&code[place + root.len()..]).into_iter().filter(|name| rank(name).is_some()));
        }
    }
    named.sort();
    named.dedup();
    named
}

/// What is wrong with the imports of a file of `folder`, one sentence each.
fn wrong_imports(folder: &str, depth: usize, text: &str) -> Vec<String> {
    let Some(own) = rank(folder) else {
        return vec![format!("{folder} is no folder of the house")];
    };
    folders_named(text, depth)
        .into_iter()
        .filter(|named| named != folder)
        .filter(|named| rank(named) > Some(own) || (folder == KNOWS_NO_LATHE && rank(named) > Some(0)))
        .map(|named| format!("{folder} imports {named}"))
        .collect()
}

fn files_below(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            files_below(&path, ending, found);
        } else if path.to_string_lossy().ends_with(ending) {
            found.push(path);
        }
    }
}

fn sources() -> Vec<(PathBuf, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    files_below(&root, ".rs", &mut found);
    found
        .into_iter()
        .map(|path| {
            let text = fs::read_to_string(&path).unwrap();
            (path.strip_prefix(&root).unwrap().to_owned(), text)
        })
        .collect()
}

#[test]
fn a_folder_imports_only_from_those_before_it() {
    let mut wrong = Vec::new();
    let mut judged = 0;
    for (path, text) in sources() {
        let parts: Vec<String> = path.iter().map(|part| part.to_string_lossy().into_owned()).collect();
        if parts.len() < 2 {
            continue; // lib.rs and main.rs see the whole house
        }
        let is_module_root = parts.last().is_some_and(|name| name == "mod.rs");
        let depth = if is_module_root { parts.len() - 1 } else { parts.len() };
        judged += 1;
        wrong.extend(wrong_imports(&parts[0], depth, &text).into_iter().map(|fault| format!("{}: {fault}", path.display())));
    }
    assert!(judged > 20, "only {judged} files were judged");
    assert!(wrong.is_empty(), "imports must go one way:\n{}", wrong.join("\n"));
}

#[test]
fn the_import_rule_sees_bad_examples() {
    let bad: [(&str, usize, &str, &str); 7] = [
        ("physics", 2, "use crate::shape::Shape;", "physics imports shape"),
        ("trial", 2, "use crate::{\n    findings::Finding,\n    ingest::{read_trial, ReadOptions},\n};", "trial imports ingest"),
        ("report", 2, "fn f() { crate::output::write_whole(p, b) }", "report imports output"),
        ("simulate", 1, "use super::causes::CauseKind;", "simulate imports causes"),
        ("simulate", 2, "use super::super::statistics;", "simulate imports statistics"),
        ("statistics", 2, "use crate::quantities::Estimate;\nuse crate::trial::Trial;", "statistics imports trial"),
        ("analysis", 2, "let x = \"quoted\"; pub use crate::cli::run as go;", "analysis imports cli"),
    ];
    for (folder, depth, text, fault) in bad {
        assert_eq!(wrong_imports(folder, depth, text), [fault], "{text}");
    }
    let good: [(&str, usize, &str); 5] = [
        ("causes", 2, "use crate::shape::Shape;\nuse crate::{trial::Trial, physics::wear};"),
        ("shape", 2, "//! crate::causes says more\n/// use crate::cli::run;\nuse super::values;"),
        ("trial", 2, "use super::causes_of_delay; use my_crate::cli::x;"),
        ("trial", 2, "let text = \"crate::cli::run\";"),
        ("cli", 2, "use crate::{report, output::write_whole, ingest};"),
    ];
    for (folder, depth, text) in good {
        assert_eq!(wrong_imports(folder, depth, text), [""; 0], "{text}");
    }
}

/// Words that mark unfinished work, written apart so that this file does not find itself.
fn leftovers(text: &str) -> Vec<String> {
    let marks = [["TO", "DO"].concat(), ["FIX", "ME"].concat(), ["XX", "X"].concat(), ["lorem", " ipsum"].concat()];
    marks.into_iter().filter(|mark| text.contains(mark.as_str())).collect()
}

#[test]
fn nothing_unfinished_is_left_in_code_templates_or_documents() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for (folder, ending) in [("src", ".rs"), ("tests", ".rs"), ("templates", ""), ("sample-data", ".toml")] {
        if root.join(folder).is_dir() {
            files_below(&root.join(folder), ending, &mut files);
        }
    }
    files.extend(["README.md", "DEVELOPERS.md"].map(|name| root.join(name)).into_iter().filter(|path| path.is_file()));
    for path in files {
        let text = String::from_utf8_lossy(&fs::read(&path).unwrap()).into_owned();
        assert_eq!(leftovers(&text), [""; 0], "{}", path.display());
    }
    assert_eq!(leftovers(&["a TO", "DO here"].concat()).len(), 1, "the search itself must find a mark");
}

/// Sources that comments name: the last capitalised word before a year and the year, such as `Watson` and `1950`, or `100` and `2008`.
fn sources_named(text: &str) -> Vec<(String, String)> {
    let mut named = Vec::new();
    for comment in text.lines().filter_map(|line| line.split_once("//")).map(|(_, comment)| comment) {
        let words: Vec<&str> = comment.split([' ', '(', ')', ',', ';', ':', '.', '`', '"']).filter(|word| !word.is_empty()).collect();
        for pair in words.windows(2) {
            let [word, year] = pair else { continue };
            let is_year = year.len() == 4 && year.parse().is_ok_and(|year: u32| (1850..2030).contains(&year));
            let is_name = word.chars().next().is_some_and(|letter| letter.is_uppercase() || letter.is_ascii_digit()) && word.len() > 2;
            if is_year && is_name {
                named.push((word.trim_end_matches("'s").to_owned(), (*year).to_owned()));
            }
        }
    }
    named
}

/// Whether a list entry (a line that begins with `- `) holds both the word and the year.
fn is_listed(list: &str, word: &str, year: &str) -> bool {
    list.lines().filter(|line| line.starts_with("- ")).any(|line| line.contains(word) && line.contains(year))
}

#[test]
fn every_source_that_the_code_names_is_listed_in_full() {
    let guide = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md")).unwrap();
    let (_, list) = guide.split_once("\n## Sources\n").unwrap();
    let mut missing = Vec::new();
    let mut found = 0;
    for (path, text) in sources() {
        for (word, year) in sources_named(&text) {
            found += 1;
            if !is_listed(list, &word, &year) {
                missing.push(format!("{}: {word} {year}", path.display()));
            }
        }
    }
    assert!(found > 30, "only {found} sources were found");
    assert!(missing.is_empty(), "add these to the sources in DEVELOPERS.md:\n{}", missing.join("\n"));
    let example = "let x = 1; // as Quayside & Marsh (1987, eq. 2) show; JCGM 100:2008; in 2026 and 5 of May 2026-03-14";
    let pair = |word: &str, year: &str| (word.to_owned(), year.to_owned());
    assert_eq!(sources_named(example), [pair("Marsh", "1987"), pair("100", "2008")]);
    assert!(!is_listed(list, "Marsh", "1987") && is_listed(list, "100", "2008"));
}
