//! Elements of a sheet's XML, so far as to know before a sheet is read that reading it comes to an end.

/// Where a tag stands among the elements.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::ingest) enum TagKind {
    Start,
    End,
    Empty,
}

/// One tag: its kind, its name, and all between its brackets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::ingest) struct Tag<'x> {
    pub(in crate::ingest) kind: TagKind,
    pub(in crate::ingest) name: &'x [u8],
    pub(in crate::ingest) whole: &'x [u8],
}

/// Hands over each tag of `xml` in its order. `None` where the elements do not stand in one another as they must (Extensible Markup Language 1.0, section 2.1, from
/// memory): a start without its end, an end of something else, a comment, a quotation or a tag without its end; and for letters other than UTF-8, in which tags cannot be told.
///
/// The library that reads OpenDocument waits for the end of a table, and of a remark in a cell, beyond the end of the file.
pub(in crate::ingest) fn each_tag<'x>(xml: &'x [u8], mut with: impl FnMut(Tag<'x>)) -> Option<()> {
    let declared = xml.get(..xml.len().min(200)).unwrap_or_default().to_ascii_lowercase();
    let stated = memchr::memmem::find(&declared, b"encoding")
        .map(|at| declared.get(at..declared.len().min(at + 24)).is_some_and(|near| memchr::memmem::find(near, b"utf-8").is_some()));
    if stated == Some(false) || std::str::from_utf8(xml).is_err() || xml.contains(&0) {
        return None;
    }
    let mut open: Vec<&[u8]> = Vec::new();
    let mut rest = xml;
    while let Some(at) = memchr::memchr(b'<', rest) {
        let tag = rest.get(at + 1..)?;
        let skipped: Option<(usize, &[u8])> = if tag.starts_with(b"!--") {
            Some((3, b"-->"))
        } else if tag.starts_with(b"![CDATA[") {
            Some((8, b"]]>"))
        } else if tag.starts_with(b"?") {
            Some((1, b"?>"))
        } else {
            None
        };
        if let Some((begin, end)) = skipped {
            let body = tag.get(begin..)?;
            rest = body.get(memchr::memmem::find(body, end)? + end.len()..)?;
            continue;
        }
        let end = end_of(tag)?;
        let whole = tag.get(..end)?;
        let tag = tag_of(whole)?;
        match tag.kind {
            TagKind::Start => open.push(tag.name),
            TagKind::End if open.pop() != Some(tag.name) => return None,
            TagKind::End | TagKind::Empty => {}
        }
        with(tag);
        rest = rest.get(at + 1 + end + 1..)?;
    }
    open.is_empty().then_some(())
}

/// Where the bracket that closes a tag stands, outside quotation marks.
fn end_of(tag: &[u8]) -> Option<usize> {
    let mut quote = None;
    tag.iter().position(|byte| match (quote, byte) {
        (None, b'>') => true,
        (None, b'"' | b'\'') => {
            quote = Some(*byte);
            false
        }
        (Some(mark), byte) if mark == *byte => {
            quote = None;
            false
        }
        _ => false,
    })
}

/// A tag of what stands between its brackets; `None` for a declaration.
fn tag_of(whole: &[u8]) -> Option<Tag<'_>> {
    let (kind, inner) = match whole {
        [b'!', ..] => return None,
        [b'/', inner @ ..] => (TagKind::End, inner),
        [inner @ .., b'/'] => (TagKind::Empty, inner),
        inner => (TagKind::Start, inner),
    };
    let name = inner.split(u8::is_ascii_whitespace).next().unwrap_or_default();
    (!name.is_empty()).then_some(Tag { kind, name, whole })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(xml: &str) -> Option<Vec<String>> {
        let mut names = Vec::new();
        each_tag(xml.as_bytes(), |tag| names.push(format!("{:?} {}", tag.kind, String::from_utf8_lossy(tag.name))))?;
        Some(names)
    }

    #[test]
    fn tags_come_in_their_order() {
        let xml = "<?xml version=\"1.0\" encoding=\"UTF-8\"?><a x='>'>1 <!-- <b> --><c y=\"'/>'\"/><![CDATA[<d>]]></a>\n";
        assert_eq!(names(xml).unwrap(), ["Start a", "Empty c", "End a"]);
        assert_eq!(names("").unwrap(), [""; 0]);
    }

    #[test]
    fn what_has_no_end_is_refused() {
        for xml in [
            "<a>",
            "<a></b>",
            "</a>",
            "<a><b></a></b>",
            "<a",
            "<a x='></a>",
            "<!-- <a></a>",
            "<![CDATA[ ]]",
            "<?xml",
            "<!DOCTYPE a><a/>",
            "<><a/>",
            "<a>\0</a>",
        ] {
            assert_eq!(names(xml), None, "{xml}");
        }
        assert_eq!(names("<?xml version=\"1.0\" encoding = \"iso-2022-jp\"?><a/>"), None);
        assert_eq!(each_tag(b"<a>\xFF</a>", |_| {}), None);
    }
}
