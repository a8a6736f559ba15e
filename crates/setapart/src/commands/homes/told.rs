//! What photos of the opened device gave, as findings; the app tells the same.

use homes::{Found, Outcome as Told, SURE, Side};
use piece::{Finding, Home, Level, PartId, Piece};

/// All that is to be told of what the photos gave; `names` are the photos', by stage.
pub(crate) fn findings(
    piece: &Piece,
    found: &Found,
    opened_from: Side,
    names: &[impl AsRef<str>],
) -> Vec<Finding> {
    let mut all = Vec::new();
    let mut tell = |level, code: &str, parts: Vec<PartId>, text: String, remedy: &str| {
        all.push(Finding {
            level,
            code: format!("homes.{code}"),
            parts,
            text,
            remedy: remedy.into(),
            phrases: Vec::new(),
        });
    };
    let name = |i: usize| piece.parts[i].name.as_str();
    let mut lost = 0;
    for (i, told) in found.parts.iter().enumerate() {
        let part = &piece.parts[i];
        let id = || vec![part.id.clone()];
        match told {
            Told::NotFound => {
                lost += 1;
                let kept = if part.home.is_some() {
                    "; the home that it had is left as it was"
                } else {
                    ""
                };
                tell(
                    Level::Fix,
                    "not-found",
                    id(),
                    format!("{} was found in no photo{kept}.", part.name),
                    "Take a photo of a stage that shows more of it, capture the face that the photos show, or put it in place by hand.",
                );
            }
            Told::Beside { stage } => tell(
                Level::Fix,
                "beside",
                id(),
                format!(
                    "{} lies beside the device at stage {stage}: that is not its home.",
                    part.name
                ),
                "Take a photo before it is taken out, or put it in place by hand.",
            ),
            Told::Found(place) => {
                if place.confidence < SURE {
                    let percent = (100.0 * place.confidence).floor();
                    tell(
                        Level::Fix,
                        "unsure",
                        id(),
                        format!("{}: {percent:.0} % sure of its home.", part.name),
                        "Look at it in the picture, and move it where it is wrong.",
                    );
                }
                if place.front_is == Side::Back {
                    tell(
                        Level::Fix,
                        "turned-over",
                        id(),
                        format!(
                            "{} is seen from the other side: its outline was captured mirrored to how it sits. Its home is that of the mirrored outline.",
                            part.name
                        ),
                        "Show its back, or capture its other face.",
                    );
                }
                if place.by_outline {
                    tell(
                        Level::Note,
                        "by-outline",
                        id(),
                        format!("{} was looked for by its outline alone.", part.name),
                        if opened_from == Side::Back {
                            "Capture its back too: a picture of the face that the photos show makes its place surer."
                        } else {
                            "A cut-out of the face that the photos show makes its place surer."
                        },
                    );
                }
                if place.alike.iter().any(|&j| j > i) {
                    let others: Vec<&str> = place.alike.iter().map(|&j| name(j)).collect();
                    let ids = [part.id.clone()]
                        .into_iter()
                        .chain(place.alike.iter().map(|&j| piece.parts[j].id.clone()))
                        .collect();
                    let mut seats: Vec<Home> = vec![place.home];
                    seats.extend(&place.as_well_at);
                    let seats: Vec<String> = seats
                        .iter()
                        .map(|h| format!("({:.1}, {:.1})", h.x, h.y))
                        .collect();
                    tell(
                        Level::Note,
                        "alike",
                        ids,
                        format!(
                            "{} looks the same as {}: each may be at any of {}.",
                            part.name,
                            others.join(", "),
                            seats.join(", ")
                        ),
                        "Swap their homes if they are the other way round.",
                    );
                }
            }
        }
    }
    let some_show_parts = found.photos.iter().any(|p| p.parts_seen > 0);
    for (photo, photo_name) in found.photos.iter().zip(names) {
        let photo_name = photo_name.as_ref();
        if photo.stranger {
            tell(
                Level::Stop,
                "other-device",
                Vec::new(),
                format!(
                    "{photo_name} (stage {}) shows another device: its outline meets the first photo's by {:.0} %, and none of the parts ties them.",
                    photo.stage,
                    (100.0 * photo.silhouettes_agree).floor()
                ),
                "Leave this photo out, or take it again.",
            );
        }
        // The closed device may show none of them.
        let is_first = found.photos.iter().all(|p| photo.stage <= p.stage);
        if !photo.stranger && !is_first && photo.parts_seen == 0 && some_show_parts {
            tell(
                Level::Note,
                "none-in-photo",
                Vec::new(),
                format!(
                    "{photo_name} (stage {}) shows none of the parts where the other photos show them.",
                    photo.stage
                ),
                "Leave it out if it is of another device, or if the parts are gone from it.",
            );
        }
        for warning in &photo.warnings {
            tell(
                Level::Note,
                "camera",
                Vec::new(),
                format!("{photo_name}: {warning}"),
                "Take the photo again if its homes look wrong.",
            );
        }
    }
    if lost == found.parts.len() {
        tell(
            Level::Stop,
            "nothing-found",
            Vec::new(),
            "Not one of the parts was found in the photos.".into(),
            "Is it the device that these parts are from, and is the side that it was opened from the right one?",
        );
    }
    all
}
