//! `scanner-profile`: a flatbed scanner measured by one scan of a capture sheet.

use super::Outcome;
use super::capture::{read_picture, read_sheet};
use crate::cli;
use crate::failure::Failure;
use crate::{files, say};
use capture::scan::{ScannerAxis, ScannerProfile, measure_scanner, scan_limits};
use serde_json::json;

pub(crate) fn run(args: &cli::ScannerProfile) -> Result<Outcome, Failure> {
    let sheet = args.sheet.as_deref().map(read_sheet).transpose()?;
    let photo = read_picture(&args.scan, &scan_limits())?;
    let dpi = args.dpi.map(|d| d.0).or(photo.dpi);
    let profile = measure_scanner(&photo, dpi, sheet.as_ref(), args.printed.measured()).map_err(
        |source| Failure::Profile {
            path: args.scan.clone(),
            source,
        },
    )?;
    files::write(&args.out, profile.to_json() + "\n")?;
    if args.json {
        let axis = |a: &ScannerAxis| json!({ "off_shares": a.off_shares() });
        say::json(&json!({
            "profile": args.out,
            "tags": profile.tags(),
            "x": axis(profile.x()),
            "y": axis(profile.y()),
            "skew": profile.skew(),
            "residual_rms_mm": profile.residual_rms_mm(),
            "residual_worst_mm": profile.residual_worst_mm(),
            "scale_sigma": profile.scale_sigma(),
        }));
    } else {
        say::print(in_words(args, &profile));
    }
    Ok(Outcome::Fine)
}

fn in_words(args: &cli::ScannerProfile, profile: &ScannerProfile) -> String {
    let off = |a: &ScannerAxis| {
        let [least, most] = a.off_shares().map(|s| 100.0 * s);
        format!("{least:+.2} to {most:+.2} %")
    };
    let mut text = format!(
        "{}: made from {} tags; lengths along x are off by {}, along y by {}, from place to place\n",
        args.out.display(),
        profile.tags(),
        off(profile.x()),
        off(profile.y()),
    );
    text += &format!(
        "  with it, the tags' corners are within {:.3} mm (root mean square), {:.3} mm at worst\n",
        profile.residual_rms_mm(),
        profile.residual_worst_mm(),
    );
    if args.printed.measured().is_none() {
        text += "  note  nobody measured the print: its scale may be off by 0.2 %, and the profile's with it\n        \
                 Measure the sheet's two bars and give --printed-x and --printed-y.\n";
    }
    text
}
