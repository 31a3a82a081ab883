use super::{FaultKind, names, page::Page, value};
use std::ops::Range;
use toml::{
    Spanned,
    de::{DeTable, DeValue},
};

/// A value of the shoot file and where it is written.
pub(super) type Written<'t> = Spanned<DeValue<'t>>;

/// Reads one table of the shoot file key by key, and tells every fault to its page.
///
/// A key is known by having been asked for; [`Self::finish`] tells those that nobody asked for.
pub(super) struct TableReader<'t> {
    page: &'t Page<'t>,
    table: &'t DeTable<'t>,
    header: Option<Range<usize>>,
    /// How messages call the table: `[[clip]]`.
    label: &'static str,
    /// What messages put before its keys: `blocked.`.
    prefix: String,
    asked: Vec<&'static str>,
}

impl<'t> TableReader<'t> {
    /// The whole file.
    pub(super) fn root(page: &'t Page<'t>, table: &'t DeTable<'t>) -> Self {
        Self {
            page,
            table,
            header: None,
            label: "the shoot file",
            prefix: String::new(),
            asked: Vec::new(),
        }
    }

    /// One table of a list of them.
    pub(super) fn open(
        page: &'t Page<'t>,
        written: &'t Written<'t>,
        label: &'static str,
    ) -> Option<Self> {
        let DeValue::Table(table) = written.get_ref() else {
            page.fault_at(&written.span(), None, value::wrong_type(label, written.get_ref()));
            return None;
        };
        let header = Some(written.span());
        Some(Self { page, table, header, label, prefix: String::new(), asked: Vec::new() })
    }

    /// The file it is a part of.
    pub(super) const fn page(&self) -> &'t Page<'t> {
        self.page
    }

    /// The line on which the table begins.
    pub(super) fn line(&self) -> u64 {
        self.header.as_ref().map_or(1, |header| self.page.line_of(header.start))
    }

    /// The line of a key's value; the table's own if the key is not there.
    pub(super) fn line_of(&self, key: &str) -> u64 {
        self.table.get(key).map_or_else(|| self.line(), |v| self.page.line_of(v.span().start))
    }

    /// The value of a key that may be left out.
    pub(super) fn written(&mut self, key: &'static str) -> Option<&'t Written<'t>> {
        if !self.asked.contains(&key) {
            self.asked.push(key);
        }
        self.table.get(key)
    }

    /// Keys that may be there and are not read now.
    pub(super) fn pass_over(&mut self, keys: &[&'static str]) {
        self.asked.extend(keys);
    }

    /// Whether a key is there, be it right or wrong.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Tells a fault of a key's value.
    pub(super) fn fault(&self, key: &str, kind: FaultKind) {
        let field = Some(format!("{}{key}", self.prefix));
        match self.table.get(key).map(Spanned::span).or_else(|| self.header.clone()) {
            Some(span) => self.page.fault_at(&span, field, kind),
            None => self.page.fault(None, field, kind),
        }
    }

    /// Tells that a key is not there, and how to mend it.
    pub(super) fn missing(&self, key: &'static str, remedy: &'static str) {
        let kind = FaultKind::Missing { key, table: self.label, remedy };
        match &self.header {
            Some(header) => self.page.fault_at(header, None, kind),
            None => self.page.fault(None, None, kind),
        }
    }

    /// Reads the value of a key that may be left out.
    pub(super) fn take<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&'t DeValue<'t>) -> Result<T, FaultKind>,
    ) -> Option<T> {
        let written = self.written(key)?;
        read(written.get_ref()).map_err(|kind| self.fault(key, kind)).ok()
    }

    /// Reads the value of a key that must be there.
    pub(super) fn need<T>(
        &mut self,
        key: &'static str,
        remedy: &'static str,
        read: impl FnOnce(&'t DeValue<'t>) -> Result<T, FaultKind>,
    ) -> Option<T> {
        if !self.has(key) {
            self.missing(key, remedy);
        }
        self.take(key, read)
    }

    /// A table within this one.
    pub(super) fn inner(&mut self, key: &'static str, label: &'static str) -> Option<Self> {
        let written = self.written(key)?;
        let prefix = format!("{}{key}.", self.prefix);
        Self::open(self.page, written, label).map(|inner| Self { prefix, ..inner })
    }

    /// The values of a list that may be left out, and may not be empty.
    pub(super) fn list(
        &mut self,
        key: &'static str,
        expected: &'static str,
    ) -> Option<&'t [Written<'t>]> {
        let values = self.take(key, |value| match value {
            DeValue::Array(values) if values.is_empty() => Err(FaultKind::Empty { expected }),
            DeValue::Array(values) => Ok(values),
            _ => Err(value::wrong_type(expected, value)),
        })?;
        Some(values)
    }

    /// Every key and its value, for a table whose keys are the user's.
    pub(super) fn entries(&self) -> impl Iterator<Item = (&'t str, &'t Written<'t>)> + use<'t> {
        self.table.iter().map(|(key, written)| (key.get_ref().as_ref(), written))
    }

    /// How messages call a key of this table.
    pub(super) fn field(&self, key: &str) -> String {
        format!("{}{key}", self.prefix)
    }

    /// Tells every key that was not asked for.
    pub(super) fn finish(self) {
        let asked = || self.asked.iter().copied();
        for key in self.table.keys() {
            let name = key.get_ref().as_ref();
            if !self.asked.contains(&name) {
                let unknown = FaultKind::UnknownKey {
                    key: name.to_owned(),
                    table: self.label,
                    nearest: names::nearest(name, asked()).map(str::to_owned),
                    known: names::listed(asked()),
                };
                self.page.fault_at(&key.span(), None, unknown);
            }
        }
    }
}
