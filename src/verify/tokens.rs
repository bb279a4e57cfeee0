//! A page taken apart into tags and texts, and where on the page each of them stands.

/// A tag with its attributes, or the text between two tags.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Token<'p> {
    /// From `<` to `>`.
    Tag(&'p str),
    /// What stands between.
    Text(&'p str),
}

impl<'p> Token<'p> {
    /// As it stands on the page.
    #[must_use]
    pub fn text(self) -> &'p str {
        match self {
            Self::Tag(text) | Self::Text(text) => text,
        }
    }

    /// Name of a tag, `/` in front of a closing one; empty for text.
    #[must_use]
    pub fn name(self) -> &'p str {
        match self {
            Self::Tag(text) => {
                let inside = text.trim_start_matches('<');
                inside.get(..inside.find([' ', '>', '\n', '\t']).unwrap_or(inside.len())).unwrap_or(inside)
            }
            Self::Text(_) => "",
        }
    }

    /// The attributes of a tag, in its order.
    #[must_use]
    pub fn attributes(self) -> Vec<(&'p str, &'p str)> {
        let Self::Tag(tag) = self else { return Vec::new() };
        let mut found = Vec::new();
        let mut rest = tag.trim_end_matches('>').trim_end_matches('/');
        while let Some((before, after)) = rest.split_once("=\"") {
            let name = before.rsplit([' ', '\n', '\t']).next().unwrap_or(before);
            let Some((value, more)) = after.split_once('"') else { break };
            found.push((name, value));
            rest = more;
        }
        found
    }

    /// One attribute of a tag.
    #[must_use]
    pub fn attribute(self, name: &str) -> Option<&'p str> {
        self.attributes().into_iter().find(|(each, _)| *each == name).map(|(_, value)| value)
    }
}

/// Takes a page apart. Any text gives tokens, which put together are the text again.
#[must_use]
pub fn tokens(page: &str) -> Vec<Token<'_>> {
    let mut found = Vec::new();
    let mut rest = page;
    while !rest.is_empty() {
        let raw = match found.last() {
            // no tags inside these
            Some(Token::Tag(tag)) if tag.starts_with("<style") => rest.find("</style"),
            _ => rest.find('<'),
        };
        let (text, after) = rest.split_at(raw.unwrap_or(rest.len()));
        if !text.is_empty() {
            found.push(Token::Text(text));
        }
        if after.is_empty() {
            break;
        }
        let (tag, after) = after.split_at(end_of_tag(after));
        found.push(Token::Tag(tag));
        rest = after;
    }
    found
}

/// Length of the tag that `text` begins with: to its `>` outside quotes, or to the end.
fn end_of_tag(text: &str) -> usize {
    let mut quoted = false;
    for (place, byte) in text.bytes().enumerate() {
        match byte {
            b'"' => quoted = !quoted,
            b'>' if !quoted => return place + 1,
            _ => {}
        }
    }
    text.len()
}

/// Where a token stands: indices of the tokens that say so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Place {
    /// The innermost element that is not part of a text.
    pub part: Part,
    heading: Option<usize>,
    caption: Option<usize>,
    row: Option<usize>,
    picture: Option<usize>,
    /// The `data` tag around it, or itself.
    pub number: Option<usize>,
}

/// Which part of a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Part {
    /// Before the body.
    #[default]
    Head,
    /// The style sheet.
    Style,
    /// Sentences, lists.
    Words,
    /// A table.
    Table,
    /// A drawing.
    Drawing,
    /// What the page carries.
    Carried,
}

/// The place of each token.
#[must_use]
pub fn places(tokens: &[Token<'_>]) -> Vec<Place> {
    let mut places = Vec::with_capacity(tokens.len());
    let mut now = Place::default();
    let mut outside = Part::Head;
    for (index, token) in tokens.iter().enumerate() {
        let next = index + 1;
        match token.name() {
            "body" => outside = Part::Words,
            "style" => now.part = Part::Style,
            "h1" | "h2" => now.heading = Some(next),
            "table" => (outside, now.caption, now.row) = (Part::Table, None, None),
            "caption" => now.caption = Some(next),
            "tr" => now.row = None,
            "th" if now.row.is_none() && token.attribute("scope") == Some("row") => now.row = Some(next),
            "svg" => (now.part, now.picture) = (Part::Drawing, None),
            "title" if now.part == Part::Drawing && now.picture.is_none() => now.picture = Some(next),
            "template" => now.part = Part::Carried,
            "data" => now.number = Some(index),
            _ => {}
        }
        if !matches!(now.part, Part::Style | Part::Drawing | Part::Carried) {
            now.part = outside;
        }
        places.push(now);
        match token.name() {
            "/style" | "/svg" | "/template" => now.part = outside,
            "/table" => (outside, now.caption, now.row) = (Part::Words, None, None),
            "/data" => now.number = None,
            _ => {}
        }
    }
    places
}

impl Place {
    /// The place in words: `“What was found”, in the table “Residuals”, row “10”`.
    #[must_use]
    pub fn in_words(&self, tokens: &[Token<'_>]) -> String {
        let quoted = |index: Option<usize>| {
            let mut text = String::new();
            for token in tokens.get(index?..)? {
                match token {
                    Token::Text(part) => text.push_str(part),
                    Token::Tag(tag) if tag.starts_with("</") && !tag.starts_with("</data") => break,
                    Token::Tag(_) => {}
                }
            }
            let text = plain(text.trim());
            (!text.is_empty()).then(|| format!("“{}”", text.chars().take(70).collect::<String>()))
        };
        let under = quoted(self.heading).map_or_else(String::new, |heading| format!("under {heading}, "));
        match self.part {
            Part::Head => "in the head of the page".to_owned(),
            Part::Style => "in the style sheet".to_owned(),
            Part::Carried => "in what the page carries".to_owned(),
            Part::Words => format!("{under}in the words"),
            Part::Table => {
                let caption = quoted(self.caption).map_or_else(String::new, |caption| format!(" {caption}"));
                let row = quoted(self.row).map_or_else(String::new, |row| format!(", row {row}"));
                format!("{under}in the table{caption}{row}")
            }
            Part::Drawing => {
                let title = quoted(self.picture).map_or_else(String::new, |title| format!(" {title}"));
                format!("{under}in the drawing{title}")
            }
        }
    }
}

/// Text without the escapes of HTML and without control characters, which could steer a terminal.
#[must_use]
pub fn plain(text: &str) -> String {
    let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&#39;", "'").replace("&nbsp;", " ");
    text.replace("&amp;", "&").chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: &str = "<!doctype html><head><style>a > b { c: \"<d>\" }</style></head><body><h2 id=\"f\">Found &amp; seen</h2><p>about <data value=\"1.25\" data-key=\"a.b\">1.2</data> mm</p>\
        <table><caption>All</caption><tr><th scope=\"row\">10</th><td>5</td></tr></table><svg><title>Curve</title><path d=\"M1 2\"/></svg></body>";

    #[test]
    fn tokens_put_together_are_the_page() {
        for page in [PAGE, "", "<", "a<b", "<a b=\">", "<style>", "x</style"] {
            assert_eq!(tokens(page).iter().map(|token| token.text()).collect::<String>(), page);
        }
    }

    #[test]
    fn each_token_knows_its_place() {
        let tokens = tokens(PAGE);
        let places = places(&tokens);
        let place = |text: &str| {
            let index = tokens.iter().position(|token| token.text().contains(text)).unwrap();
            places[index].in_words(&tokens)
        };
        assert_eq!(place("1.25"), "under “Found & seen”, in the words");
        assert_eq!(place("M1 2"), "under “Found & seen”, in the drawing “Curve”");
        assert_eq!(place("5"), "under “Found & seen”, in the words", "the first 5 is that of the number");
        let cell = tokens.iter().position(|token| *token == Token::Text("5")).unwrap();
        assert_eq!(places[cell].in_words(&tokens), "under “Found & seen”, in the table “All”, row “10”");
        assert_eq!(place("c: "), "in the style sheet");
        let number = tokens.iter().position(|token| *token == Token::Text("1.2")).unwrap();
        assert_eq!(places[number].number.and_then(|tag| tokens[tag].attribute("data-key")), Some("a.b"));
    }
}
