//! Plausible values of a type, with which a function's body is replaced.

use syn::{GenericArgument, PathArguments, ReturnType, Type};

/// Expressions of the type that a function returns, the most usual first; none where nothing is to be guessed.
pub fn values_returned(output: &ReturnType) -> Vec<String> {
    match output {
        ReturnType::Default => vec!["()".to_owned()],
        ReturnType::Type(_, of) => values_of(of),
    }
}

fn words(list: &[&str]) -> Vec<String> {
    list.iter().map(|&word| word.to_owned()).collect()
}

/// Expressions of a type. Where the name tells nothing, `Default::default()`, which the compiler may refuse.
fn values_of(of: &Type) -> Vec<String> {
    match of {
        Type::Path(path) => {
            let Some(last) = path.path.segments.last() else { return Vec::new() };
            let inner: Vec<&Type> = match &last.arguments {
                PathArguments::AngleBracketed(list) => list
                    .args
                    .iter()
                    .filter_map(|argument| if let GenericArgument::Type(inner) = argument { Some(inner) } else { None })
                    .collect(),
                _ => Vec::new(),
            };
            let first_inner = || inner.first().map(|inner| values_of(inner)).unwrap_or_default();
            match last.ident.to_string().as_str() {
                "f64" | "f32" => words(&["0.0", "1.0", "-1.0"]),
                "bool" => words(&["true", "false"]),
                "usize" | "u8" | "u16" | "u32" | "u64" | "u128" => words(&["0", "1"]),
                "isize" | "i8" | "i16" | "i32" | "i64" | "i128" => words(&["0", "1", "-1"]),
                "String" => words(&["String::new()", "\"xyzzy\".to_owned()"]),
                "Option" => {
                    let some = first_inner().into_iter().take(1).map(|value| format!("Some({value})"));
                    std::iter::once("None".to_owned()).chain(some).collect()
                }
                "Vec" => {
                    let one = first_inner().into_iter().take(1).map(|value| format!("vec![{value}]"));
                    std::iter::once("Vec::new()".to_owned()).chain(one).collect()
                }
                "Result" => first_inner().into_iter().take(2).map(|value| format!("Ok({value})")).collect(),
                _ => words(&["Default::default()"]),
            }
        }
        Type::Tuple(tuple) => {
            let parts: Vec<Vec<String>> = tuple.elems.iter().map(values_of).collect();
            if parts.iter().any(Vec::is_empty) {
                return Vec::new();
            }
            let widest = parts.iter().map(Vec::len).max().unwrap_or(1).min(2);
            let whole = |place: usize| -> String {
                let list: Vec<&str> = parts.iter().map(|part| part[place.min(part.len() - 1)].as_str()).collect();
                if list.len() == 1 { format!("({},)", list[0]) } else { format!("({})", list.join(", ")) }
            };
            (0..widest).map(whole).collect()
        }
        // The length is whatever the type says.
        Type::Array(array) => values_of(&array.elem).into_iter().take(2).map(|value| format!("std::array::from_fn(|_| {value})")).collect(),
        Type::Reference(reference) if reference.mutability.is_none() => match &*reference.elem {
            Type::Slice(_) => words(&["&[]"]),
            Type::Path(path) if path.path.is_ident("str") => words(&["\"\"", "\"xyzzy\""]),
            _ => Vec::new(),
        },
        Type::Paren(paren) => values_of(&paren.elem),
        _ => Vec::new(),
    }
}
