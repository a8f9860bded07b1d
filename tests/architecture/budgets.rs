//! Files and functions that outgrow what can be read at one go. A report, not a rule.
use std::path::PathBuf;
use syn::spanned::Spanned;
use syn::visit::{self, Visit};

const FILE_LINES: usize = 400;
const FUNCTION_LINES: usize = 60;

/// One line for each file and function over its budget.
pub fn over(sources: &[(PathBuf, String)]) -> Vec<String> {
    let mut report = Vec::new();
    for (path, text) in sources {
        let lines = text.lines().count();
        if lines > FILE_LINES {
            report.push(format!("{}: {lines} lines", path.display()));
        }
        let file = syn::parse_file(text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let mut functions = Functions { place: path.display().to_string(), report: &mut report };
        functions.visit_file(&file);
    }
    report
}

struct Functions<'a> {
    place: String,
    report: &'a mut Vec<String>,
}

impl Functions<'_> {
    fn measure(&mut self, name: &syn::Ident, block: &syn::Block) {
        let span = block.span();
        let lines = span.end().line - span.start().line + 1;
        if lines > FUNCTION_LINES {
            self.report.push(format!("{}:{}: {name} has {lines} lines", self.place, span.start().line));
        }
    }
}

impl<'ast> Visit<'ast> for Functions<'_> {
    fn visit_item_fn(&mut self, item: &'ast syn::ItemFn) {
        self.measure(&item.sig.ident, &item.block);
        visit::visit_item_fn(self, item);
    }

    fn visit_impl_item_fn(&mut self, item: &'ast syn::ImplItemFn) {
        self.measure(&item.sig.ident, &item.block);
        visit::visit_impl_item_fn(self, item);
    }
}
