//! What the benches share.

/// The most memory this process has held, as Linux tells it; `None` elsewhere.
pub fn peak_memory() -> Option<String> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    Some(line["VmHWM:".len()..].trim().to_owned())
}
