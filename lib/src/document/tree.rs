//! Places in a parsed document: paths of keys, what has which bytes, taking entries out and putting values in.

use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Where values that stand in for missing ones are: nowhere.
pub(super) const STAND_IN: Range<usize> = usize::MAX - 1..usize::MAX;

/// Values of every type that a document's keys have. Tables come before lists, since serde takes a list for a struct.
pub(super) fn stand_ins() -> Vec<DeValue<'static>> {
    let (list, _) = DeTable::parse_recoverable("a = ''\nb = 2\nc = false\nd = {}\ne = []\nf = [0, 0, 0]\ng = [0, 0]\n");
    let mut values: Vec<DeValue<'_>> = list.into_inner().into_iter().map(|(_, value)| value.into_inner()).collect();
    for value in &mut values {
        if let DeValue::Array(array) = value {
            array.iter_mut().for_each(|element| *element = Spanned::new(STAND_IN, element.get_ref().clone()));
        }
    }
    values
}

/// The path and the bytes of the innermost table that has exactly the bytes `span`.
pub(super) fn holder(table: &DeTable<'_>, span: &Range<usize>, path: &str) -> Option<(String, Range<usize>)> {
    table.iter().find_map(|(key, value)| within_holder(value, span, &join(path, key.get_ref())))
}

fn within_holder(value: &Spanned<DeValue<'_>>, span: &Range<usize>, path: &str) -> Option<(String, Range<usize>)> {
    let inner = match value.get_ref() {
        DeValue::Table(table) => holder(table, span, path),
        DeValue::Array(array) => {
            array.iter().enumerate().find_map(|(i, element)| within_holder(element, span, &format!("{path}[{i}]")))
        }
        _ => None,
    };
    let here = value.get_ref().is_table() && value.span() == *span;
    inner.or_else(|| here.then(|| (path.to_owned(), span.clone())))
}

/// Puts a value that stands in for `key` into the table at `path`.
pub(super) fn put(table: &mut DeTable<'_>, path: &str, key: &str, value: &DeValue<'static>) -> Option<()> {
    let mut parts = path_parts(path).into_iter();
    let mut here = table;
    if let Some(first) = parts.next() {
        let mut value = here.get_mut(first.as_str())?;
        for part in parts {
            value = match value.get_mut() {
                DeValue::Table(table) => table.get_mut(part.as_str())?,
                DeValue::Array(array) => array.get_mut(part.parse::<usize>().ok()?)?,
                _ => return None,
            };
        }
        let DeValue::Table(inner) = value.get_mut() else { return None };
        here = inner;
    }
    here.insert(Spanned::new(STAND_IN, key.to_owned().into()), Spanned::new(STAND_IN, value.clone()));
    Some(())
}

/// `step[2].lights[0]` as step, 2, lights, 0.
pub(super) fn path_parts(path: &str) -> Vec<String> {
    path.split(['.', '[']).map(|p| p.trim_end_matches(']').to_owned()).filter(|p| !p.is_empty()).collect()
}

/// The path of `key` within the table at `path`.
pub(super) fn join(path: &str, key: &str) -> String {
    match (path.is_empty(), key.is_empty()) {
        (true, _) => key.to_owned(),
        (_, true) => path.to_owned(),
        _ => format!("{path}.{key}"),
    }
}

/// Takes the innermost entry that the bytes `span` concern out of `table`; gives its path and place.
pub(super) fn take_out(table: &mut DeTable<'_>, span: &Range<usize>, path: &str) -> Option<(String, Range<usize>)> {
    let mut hit = None;
    for (key, value) in table.iter_mut() {
        let here = join(path, key.get_ref());
        let inner = match value.get_mut() {
            DeValue::Table(inner) => take_out(inner, span, &here),
            DeValue::Array(array) => array.iter_mut().enumerate().find_map(|(i, element)| match element.get_mut() {
                DeValue::Table(inner) => take_out(inner, span, &format!("{here}[{i}]")),
                _ => None,
            }),
            _ => None,
        };
        if inner.is_some() {
            return inner;
        }
        let touches = |place: &Range<usize>| place.start <= span.start && span.end <= place.end;
        let in_array = value.get_ref().as_array().is_some_and(|a| a.iter().any(|e| touches(&e.span())));
        if key.span() == *span || touches(&value.span()) || in_array {
            let place = if key.span() == *span || in_array { span.clone() } else { value.span() };
            hit = Some((key.get_ref().clone().into_owned(), here, place));
        }
    }
    let (key, here, place) = hit?;
    table.remove(key.as_str());
    Some((here, place))
}
