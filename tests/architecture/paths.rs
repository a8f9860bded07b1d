//! Every path that a source names, made absolute: in `use` trees, types, expressions, attributes and macros.
use proc_macro2::{TokenStream, TokenTree};
use std::path::Path;
use syn::visit::{self, Visit};

/// A path as named: its first part after the crate's root, or the outside crate (or local name) it starts with.
#[derive(Debug)]
pub struct Named {
    /// Starts at this crate's root.
    pub from_root: bool,
    /// First part; empty where the root itself is meant.
    pub name: String,
    /// Line in the source.
    pub line: usize,
}

/// The area of a file below `src`; empty for `lib.rs`.
pub fn area_of(path: &Path) -> String {
    module_of(path).into_iter().next().unwrap_or_default()
}

fn module_of(path: &Path) -> Vec<String> {
    let mut parts: Vec<String> =
        path.with_extension("").iter().map(|part| part.to_string_lossy().into_owned()).collect();
    if parts.last().is_some_and(|last| last == "mod" || last == "lib") {
        parts.pop();
    }
    parts
}

/// All paths in a source.
pub fn named_paths(path: &Path, text: &str) -> Vec<Named> {
    let file = syn::parse_file(text).unwrap_or_else(|error| panic!("{} cannot be parsed: {error}", path.display()));
    let mut reader = Reader { module: module_of(path), found: Vec::new() };
    reader.visit_file(&file);
    reader.found
}

struct Reader {
    module: Vec<String>,
    found: Vec<Named>,
}

impl Reader {
    /// Follows `crate`, `self` and `super` from the current module.
    fn note(&mut self, parts: &[String], line: usize) {
        let mut at: Option<Vec<String>> = None;
        for part in parts {
            let here = at.take();
            at = Some(match (part.as_str(), here) {
                ("crate", _) => Vec::new(),
                ("self", here) => here.unwrap_or_else(|| self.module.clone()),
                ("super", here) => {
                    let mut up = here.unwrap_or_else(|| self.module.clone());
                    up.pop();
                    up
                }
                (name, None) => return self.found.push(Named { from_root: false, name: name.to_owned(), line }),
                (name, Some(mut here)) => {
                    here.push(name.to_owned());
                    here
                }
            });
        }
        if let Some(absolute) = at {
            let name = absolute.first().filter(|n| *n != "*").cloned().unwrap_or_default();
            self.found.push(Named { from_root: true, name, line });
        }
    }

    fn use_tree(&mut self, tree: &syn::UseTree, before: &[String]) {
        let with = |ident: &proc_macro2::Ident| [before, &[ident.to_string()]].concat();
        match tree {
            syn::UseTree::Path(path) => self.use_tree(&path.tree, &with(&path.ident)),
            syn::UseTree::Name(name) => self.note(&with(&name.ident), name.ident.span().start().line),
            syn::UseTree::Rename(name) => self.note(&with(&name.ident), name.ident.span().start().line),
            syn::UseTree::Glob(glob) => {
                let line = glob.star_token.spans[0].start().line;
                self.note(&[before, &["*".to_owned()]].concat(), line);
            }
            syn::UseTree::Group(group) => group.items.iter().for_each(|item| self.use_tree(item, before)),
        }
    }

    /// Macros are not parsed by syn: their tokens are searched for `a::b::c`.
    fn tokens(&mut self, tokens: TokenStream) {
        let mut path: Vec<String> = Vec::new();
        let mut line = 0;
        let mut colons = 0;
        for token in tokens {
            match token {
                TokenTree::Ident(ident) => {
                    if colons != 2 {
                        self.end(&mut path, line);
                        line = ident.span().start().line;
                    }
                    path.push(ident.to_string());
                    colons = 0;
                }
                TokenTree::Punct(mark) if mark.as_char() == ':' => colons += 1,
                other => {
                    self.end(&mut path, line);
                    colons = 0;
                    if let TokenTree::Group(group) = other {
                        self.tokens(group.stream());
                    }
                }
            }
        }
        self.end(&mut path, line);
    }

    fn end(&mut self, path: &mut Vec<String>, line: usize) {
        let parts = std::mem::take(path);
        if parts.len() > 1 {
            self.note(&parts, line);
        }
    }
}

impl<'ast> Visit<'ast> for Reader {
    fn visit_item_use(&mut self, item: &'ast syn::ItemUse) {
        self.use_tree(&item.tree, &[]);
    }

    fn visit_item_extern_crate(&mut self, item: &'ast syn::ItemExternCrate) {
        let name = item.ident.to_string().replace("self", "conewright");
        self.found.push(Named { from_root: false, name, line: item.ident.span().start().line });
    }

    fn visit_item_mod(&mut self, item: &'ast syn::ItemMod) {
        self.module.push(item.ident.to_string());
        visit::visit_item_mod(self, item);
        self.module.pop();
    }

    fn visit_visibility(&mut self, _: &'ast syn::Visibility) {
        // `pub(crate)` and `pub(in …)` open a thing, they import nothing.
    }

    fn visit_path(&mut self, path: &'ast syn::Path) {
        let parts: Vec<String> = path.segments.iter().map(|segment| segment.ident.to_string()).collect();
        // A single name is a local thing (or came in by a `use`, which is seen).
        if parts.len() > 1 {
            let line = path.segments[0].ident.span().start().line;
            self.note(&parts, line);
        }
        visit::visit_path(self, path);
    }

    fn visit_macro(&mut self, mac: &'ast syn::Macro) {
        self.tokens(mac.tokens.clone());
        visit::visit_macro(self, mac);
    }

    fn visit_meta_list(&mut self, list: &'ast syn::MetaList) {
        self.tokens(list.tokens.clone());
        visit::visit_meta_list(self, list);
    }
}
