//! Finds where a source file can be changed, and how. What tests hold, constants, patterns, types and the insides of macros stay as they are.

use crate::values::values_returned;
use std::ops::Range;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};
use syn::{Attribute, BinOp, Block, Expr, ExprBinary, ExprUnary, Item, ReturnType, Stmt, UnOp};

/// One way to change the code: what stands there and what would stand there, with where it is.
#[derive(Debug, Clone)]
pub struct Change {
    /// The operator's kind: `arithmetic`, `comparison`, `logic`, `deleted`, `body`.
    pub kind: &'static str,
    /// What is put in the place of the whole site (an expression) or returned (a body).
    pub replacement: String,
    /// The operator as it stands and as it becomes, or the value that a body returns.
    pub told: String,
}

/// A place of a file with all its changes.
#[derive(Debug, Clone)]
pub struct Site {
    /// Bytes of the whole expression; of a body, the empty range after its brace.
    pub bytes: Range<usize>,
    pub is_body: bool,
    pub line: usize,
    pub column: usize,
    /// `Type::function` in which it stands.
    pub function: String,
    /// The expression's text, blanks squeezed; of a body, empty.
    pub text: String,
    pub changes: Vec<Change>,
}

/// All sites of a source text, in their order; an error where it is no Rust.
pub fn sites(text: &str) -> Result<Vec<Site>, syn::Error> {
    let file = syn::parse_file(text)?;
    let mut finder = Finder { text, path: Vec::new(), found: Vec::new() };
    finder.visit_file(&file);
    let mut found = finder.found;
    found.sort_by_key(|site| (site.bytes.start, std::cmp::Reverse(site.bytes.end)));
    Ok(found)
}

/// Modules without a body that are compiled for tests only.
pub fn test_modules(text: &str) -> Result<Vec<String>, syn::Error> {
    let file = syn::parse_file(text)?;
    let only = file.items.iter().filter_map(|item| match item {
        Item::Mod(module) if module.content.is_none() && for_tests(&module.attrs) => Some(module.ident.to_string()),
        _ => None,
    });
    Ok(only.collect())
}

fn for_tests(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        let path = attribute.path();
        path.is_ident("test")
            || (path.is_ident("cfg") && attribute.meta.require_list().is_ok_and(|list| list.tokens.to_string().contains("test")))
    })
}

/// Blanks, line ends and comments squeezed to one blank each.
pub fn squeezed(text: &str) -> String {
    let lines = text.lines().map(|line| line.split("//").next().unwrap_or(line));
    lines.flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ")
}

/// What a binary operator becomes; nothing for those that are left alone.
fn others(operator: &BinOp) -> (&'static str, &'static [&'static str]) {
    match operator {
        BinOp::Add(_) => ("arithmetic", &["-"]),
        BinOp::Sub(_) => ("arithmetic", &["+"]),
        BinOp::Mul(_) => ("arithmetic", &["/"]),
        BinOp::Div(_) => ("arithmetic", &["*"]),
        BinOp::Rem(_) => ("arithmetic", &["/"]),
        BinOp::AddAssign(_) => ("arithmetic", &["-="]),
        BinOp::SubAssign(_) => ("arithmetic", &["+="]),
        BinOp::MulAssign(_) => ("arithmetic", &["/="]),
        BinOp::DivAssign(_) => ("arithmetic", &["*="]),
        BinOp::Lt(_) => ("comparison", &["<=", ">="]),
        BinOp::Le(_) => ("comparison", &["<", ">"]),
        BinOp::Gt(_) => ("comparison", &[">=", "<="]),
        BinOp::Ge(_) => ("comparison", &[">", "<"]),
        BinOp::Eq(_) => ("comparison", &["!="]),
        BinOp::Ne(_) => ("comparison", &["=="]),
        BinOp::And(_) => ("logic", &["||"]),
        BinOp::Or(_) => ("logic", &["&&"]),
        BinOp::BitAnd(_) => ("logic", &["|"]),
        BinOp::BitOr(_) => ("logic", &["&"]),
        BinOp::BitXor(_) => ("logic", &["|"]),
        BinOp::Shl(_) => ("arithmetic", &[">>"]),
        BinOp::Shr(_) => ("arithmetic", &["<<"]),
        _ => ("", &[]),
    }
}

/// Whether `let` stands in a chain of `&&`: such a chain is no expression that could be put in brackets.
fn holds_let(expression: &Expr) -> bool {
    match expression {
        Expr::Let(_) => true,
        Expr::Binary(binary) => matches!(binary.op, BinOp::And(_)) && (holds_let(&binary.left) || holds_let(&binary.right)),
        _ => false,
    }
}

struct Finder<'a> {
    text: &'a str,
    path: Vec<String>,
    found: Vec<Site>,
}

impl Finder<'_> {
    fn text_of(&self, part: &impl Spanned) -> &str {
        &self.text[part.span().byte_range()]
    }

    fn add(&mut self, whole: &impl Spanned, at: proc_macro2::LineColumn, changes: Vec<Change>) {
        let bytes = whole.span().byte_range();
        let text = squeezed(&self.text[bytes.clone()]);
        self.found.push(Site {
            bytes,
            is_body: false,
            line: at.line,
            column: at.column + 1,
            function: self.path.join("::"),
            text,
            changes,
        });
    }

    fn body(&mut self, output: &ReturnType, block: &Block) {
        let only = match block.stmts.as_slice() {
            [Stmt::Expr(only, None)] => squeezed(self.text_of(only)),
            [] => return,
            _ => String::new(),
        };
        let values = values_returned(output).into_iter().filter(|value| *value != only);
        let changes: Vec<Change> = values.map(|value| Change { kind: "body", told: format!("→ {value}"), replacement: value }).collect();
        if changes.is_empty() {
            return;
        }
        let after = block.brace_token.span.open().byte_range().end;
        let start = block.brace_token.span.open().start();
        let function = self.path.join("::");
        self.found.push(Site {
            bytes: after..after,
            is_body: true,
            line: start.line,
            column: start.column + 1,
            function,
            text: String::new(),
            changes,
        });
    }

    fn function(&mut self, name: String, constant: bool, attributes: &[Attribute], output: &ReturnType, block: &Block) {
        if constant || for_tests(attributes) {
            return;
        }
        self.path.push(name);
        self.body(output, block);
        self.visit_block(block);
        self.path.pop();
    }
}

impl<'ast> Visit<'ast> for Finder<'_> {
    fn visit_attribute(&mut self, _: &'ast Attribute) {}
    fn visit_item_const(&mut self, _: &'ast syn::ItemConst) {}
    fn visit_item_static(&mut self, _: &'ast syn::ItemStatic) {}
    fn visit_impl_item_const(&mut self, _: &'ast syn::ImplItemConst) {}
    fn visit_trait_item_const(&mut self, _: &'ast syn::TraitItemConst) {}
    fn visit_expr_const(&mut self, _: &'ast syn::ExprConst) {}
    fn visit_type(&mut self, _: &'ast syn::Type) {}
    fn visit_pat(&mut self, _: &'ast syn::Pat) {}
    fn visit_generic_argument(&mut self, _: &'ast syn::GenericArgument) {}
    fn visit_variant(&mut self, _: &'ast syn::Variant) {}

    fn visit_item_mod(&mut self, module: &'ast syn::ItemMod) {
        if !for_tests(&module.attrs) {
            visit::visit_item_mod(self, module);
        }
    }

    fn visit_item_impl(&mut self, implementation: &'ast syn::ItemImpl) {
        if for_tests(&implementation.attrs) {
            return;
        }
        let name = match &*implementation.self_ty {
            syn::Type::Path(path) => path.path.segments.last().map(|last| last.ident.to_string()).unwrap_or_default(),
            other => squeezed(self.text_of(other)),
        };
        self.path.push(name);
        visit::visit_item_impl(self, implementation);
        self.path.pop();
    }

    fn visit_item_trait(&mut self, described: &'ast syn::ItemTrait) {
        self.path.push(described.ident.to_string());
        visit::visit_item_trait(self, described);
        self.path.pop();
    }

    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        let constant = item.sig.constness.is_some();
        self.function(item.sig.ident.to_string(), constant, &item.attrs, &item.sig.output, &item.block);
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        let constant = item.sig.constness.is_some();
        self.function(item.sig.ident.to_string(), constant, &item.attrs, &item.sig.output, &item.block);
    }

    fn visit_trait_item_fn(&mut self, item: &'ast syn::TraitItemFn) {
        if let Some(block) = &item.default {
            let constant = item.sig.constness.is_some();
            self.function(item.sig.ident.to_string(), constant, &item.attrs, &item.sig.output, block);
        }
    }

    fn visit_expr_repeat(&mut self, repeat: &'ast syn::ExprRepeat) {
        self.visit_expr(&repeat.expr);
    }

    fn visit_expr_binary(&mut self, binary: &'ast ExprBinary) {
        let (kind, becomes) = others(&binary.op);
        let in_chain = holds_let(&binary.left) || holds_let(&binary.right);
        if !becomes.is_empty() && !in_chain {
            let (left, right, operator) = (self.text_of(&binary.left), self.text_of(&binary.right), self.text_of(&binary.op));
            let change = |other: &&'static str| Change {
                kind,
                replacement: format!("({left}) {other} ({right})"),
                told: format!("{operator} → {other}"),
            };
            let changes = becomes.iter().map(change).collect();
            self.add(binary, binary.op.span().start(), changes);
        }
        visit::visit_expr_binary(self, binary);
    }

    fn visit_expr_unary(&mut self, unary: &'ast ExprUnary) {
        let deleted = match unary.op {
            UnOp::Not(_) => "! deleted",
            UnOp::Neg(_) => "- deleted",
            _ => "",
        };
        if !deleted.is_empty() {
            let replacement = format!("({})", self.text_of(&unary.expr));
            self.add(unary, unary.op.span().start(), vec![Change { kind: "deleted", replacement, told: deleted.to_owned() }]);
        }
        visit::visit_expr_unary(self, unary);
    }
}
