//! Asks PDF readers to print a document at its own size.
//!
//! Many readers fit pages to the paper unless the document says `/PrintScaling /None` in its viewer
//! preferences (ISO 32000-1, 12.2), which the PDF library does not write. It is added as an incremental
//! update (7.5.6): the catalog once more with the entry, its place, and a trailer that points back.

/// Appends the update. `None` where the document is not laid out as the library lays it out.
pub(super) fn with_print_scaling_none(mut pdf: Vec<u8>) -> Option<Vec<u8>> {
    let trailer_at = rfind(&pdf, b"trailer\n<<")? + b"trailer\n".len();
    let end = trailer_at + find(&pdf[trailer_at..], b">>\nstartxref\n")?;
    let entries = std::str::from_utf8(pdf.get(trailer_at + 2..end)?).ok()?;
    let previous = std::str::from_utf8(pdf.get(end + b">>\nstartxref\n".len()..)?).ok()?;
    let previous: usize = previous.lines().next()?.trim().parse().ok()?;
    let root: u32 = entries
        .split("/Root ")
        .nth(1)?
        .split(' ')
        .next()?
        .parse()
        .ok()?;
    let head = format!("\n{root} 0 obj\n<<");
    let catalog_at = rfind(&pdf, head.as_bytes())? + head.len();
    let catalog_end = catalog_at + find(&pdf[catalog_at..], b">>\nendobj")?;
    let catalog = std::str::from_utf8(pdf.get(catalog_at..catalog_end)?).ok()?;
    if catalog.contains("/ViewerPreferences") {
        return None;
    }
    let object =
        format!("{root} 0 obj\n<<{catalog}/ViewerPreferences<</PrintScaling/None>>>>\nendobj\n");
    let entries = entries.to_owned();
    if pdf.last() != Some(&b'\n') {
        pdf.push(b'\n');
    }
    let object_at = pdf.len();
    pdf.extend_from_slice(object.as_bytes());
    let table_at = pdf.len();
    let update = format!(
        "xref\n{root} 1\n{object_at:010} 00000 n\r\ntrailer\n<<{entries}/Prev {previous}>>\nstartxref\n{table_at}\n%%EOF\n"
    );
    pdf.extend_from_slice(update.as_bytes());
    Some(pdf)
}

fn find(bytes: &[u8], what: &[u8]) -> Option<usize> {
    bytes.windows(what.len()).position(|w| w == what)
}

fn rfind(bytes: &[u8], what: &[u8]) -> Option<usize> {
    bytes.windows(what.len()).rposition(|w| w == what)
}
