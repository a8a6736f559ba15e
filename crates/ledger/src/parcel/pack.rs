//! The piece packed to travel.

use crate::parcel::Carriage;
use crate::parcel::lithium::{CellRating, Lithium, statement};
use crate::{LedgerError, Money};
use piece::{Figure, Moulding, Piece, Standing};
use serde::Serialize;

/// Fall tests of a parcel (ISTA 1A, FACTS 9): one corner, the three edges that meet there, six faces.
const FALLS: &str = "one corner, the three edges that meet in it, all six faces";

/// A packed piece.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Parcel {
    /// The framed piece: width, height, depth, mm.
    pub piece_mm: [f64; 3],
    /// Its mass, g.
    pub piece_g: f64,
    /// Cushion on every side, mm, in stock thicknesses.
    pub cushion_mm: f64,
    /// The least that does, mm.
    pub cushion_needed_mm: f64,
    /// Area on which the piece must rest on each side, mm2, so that the foam is loaded as it likes best.
    pub bearing_mm2: f64,
    /// The box from outside, mm: rounded up to whole centimetres.
    pub size_mm: [f64; 3],
    /// Packed mass, g.
    pub mass_g: f64,
    /// The fall that the cushion is for, mm.
    pub drop_mm: f64,
    /// Mass that the carrier reckons from the volume, kg, rounded up as it rounds.
    pub dimensional_kg: f64,
    /// What is charged, kg: the larger of both.
    pub charged_kg: f64,
    /// What carriage costs, where a tariff is known.
    pub freight: Option<Money>,
    /// How it is packed, in order.
    pub steps: Vec<String>,
    /// What must be seen to.
    pub notes: Vec<String>,
    /// Lithium in it.
    pub lithium: Lithium,
    /// The figures behind it.
    pub figures: Vec<Figure>,
}

/// What is asked beside the piece.
#[derive(Debug, Clone, Default)]
pub struct ParcelOptions {
    /// Ratings of cells that travel with the piece.
    pub cells: Vec<CellRating>,
    /// Mass of the framed piece, g, where it was weighed.
    pub mass_g: Option<f64>,
}

/// Packs a piece.
///
/// # Errors
/// [`LedgerError::Missing`] where the mass or the depth is not known.
pub fn pack(
    piece: &Piece,
    carriage: &Carriage,
    options: &ParcelOptions,
) -> Result<Parcel, LedgerError> {
    let build = piece.build.as_ref();
    let piece_g =
        options
            .mass_g
            .or(build.map(|b| b.mass_g))
            .ok_or_else(|| LedgerError::Missing {
                what: "the piece's mass".into(),
                remedy: "run mount first, or weigh it and give --mass in grams".into(),
            })?;
    if !(1.0..=1e6).contains(&piece_g) {
        return Err(LedgerError::Range {
            what: "the piece's mass".into(),
            found: format!("{piece_g} g"),
            allowed: "1 g to 1000 kg",
        });
    }
    let mut notes = Vec::new();
    let rebate = piece
        .frame
        .rebate_depth_mm
        .or(build.map(|b| b.depth.needed_mm))
        .ok_or_else(|| LedgerError::Missing {
            what: "the frame's depth".into(),
            remedy: "give frame.rebate_depth_mm in the piece, or run mount first".into(),
        })?;
    let said = piece.choices.moulding.clone();
    let known = said.is_some();
    let moulding = said.unwrap_or_else(|| Moulding::usual(rebate));
    let (width, depth) = (moulding.width_mm, moulding.height_mm.max(rebate));
    if !known {
        notes.push(format!(
            "The moulding is not known: {width:.0} mm wide and {depth:.0} mm high are assumed. Say it in the piece (choices.moulding)."
        ));
    }
    let beyond = 2.0 * (width - piece.frame.lip_mm).max(0.0);
    let piece_mm = [
        piece.frame.size_mm[0] + beyond,
        piece.frame.size_mm[1] + beyond,
        depth,
    ];

    // Cushion and box add mass, a heavier parcel falls less far: settled from the light side, so that the fall is never
    // taken too low.
    let wall = carriage.box_wall_mm.value;
    let step = carriage.cushion_step_mm.value;
    let mut mass_g = piece_g;
    let mut drop_mm = 0.0;
    let (mut needed, mut cushion, mut size_mm) = (0.0, 0.0, [0.0; 3]);
    for _ in 0..4 {
        let drop = carriage
            .drop_mm(mass_g / 1000.0)
            .ok_or_else(|| LedgerError::Range {
                what: "the parcel's mass".into(),
                found: format!("{:.1} kg", mass_g / 1000.0),
                allowed: "within the table of drop heights; heavier goods travel on a pallet",
            })?;
        if drop_mm == drop {
            break;
        }
        drop_mm = drop;
        needed = carriage.cushion_mm(drop);
        cushion = (needed / step - 1e-9).ceil() * step;
        size_mm = piece_mm.map(|s| ((s + 2.0 * (cushion + wall)) / 10.0 - 1e-9).ceil() * 10.0);
        let inner: f64 = size_mm.iter().map(|s| s - 2.0 * wall).product();
        let foam_g = (inner - piece_mm.iter().product::<f64>()).max(0.0)
            * 1e-9
            * carriage.cushion_kg_per_m3.value
            * 1000.0;
        let [a, b, c] = size_mm;
        // Flaps double two faces.
        let board_m2 = (2.0 * (a * b + b * c + a * c) + 2.0 * a * b.min(c)) * 1e-6;
        mass_g = piece_g + foam_g + board_m2 * carriage.box_g_per_m2.value;
    }

    let round = |kg: f64| (kg / carriage.round_kg.value - 1e-9).ceil() * carriage.round_kg.value;
    let dimensional_kg = round(carriage.dimensional_kg(size_mm));
    let charged_kg = dimensional_kg.max(round(mass_g / 1000.0));
    let freight = carriage.tariff.as_ref().and_then(|t| {
        let row = t.rows.iter().find(|r| charged_kg <= r.up_to_kg)?;
        Some(Money::new(row.minor.get(), t.currency))
    });
    if carriage.tariff.is_some() && freight.is_none() {
        notes.push(format!(
            "The tariff ends below {charged_kg} kg: ask the carrier."
        ));
    }
    notes.extend(beyond_limits(carriage, size_mm, mass_g));
    let steps = steps(piece, cushion, drop_mm);
    if fragile_glazing(piece) {
        notes.push("Glass in a parcel breaks often. Acrylic instead of it weighs less than half and does not cut the work; tape is no protection, it only holds the splinters.".into());
    }
    Ok(Parcel {
        piece_mm,
        piece_g,
        cushion_mm: cushion,
        cushion_needed_mm: needed,
        bearing_mm2: carriage.bearing_mm2(piece_g),
        size_mm,
        mass_g,
        drop_mm,
        dimensional_kg,
        charged_kg,
        freight,
        steps,
        notes,
        lithium: statement(piece, &options.cells)?,
        figures: figures(carriage),
    })
}

/// Glazing that is not known counts as glass.
fn fragile_glazing(piece: &Piece) -> bool {
    let glazing = piece.frame.glazing.as_deref();
    glazing.is_none_or(|g| !g.starts_with("acrylic") && g != "none")
}

fn beyond_limits(carriage: &Carriage, size_mm: [f64; 3], mass_g: f64) -> Vec<String> {
    let mut sides = size_mm;
    sides.sort_by(|a, b| b.total_cmp(a));
    let girth = sides[0] + 2.0 * (sides[1] + sides[2]);
    let limits = carriage.limits;
    [
        ("Its mass in kg", mass_g / 1000.0, limits.mass_kg),
        ("Its longest side in mm", sides[0], limits.longest_mm),
        ("Its length and girth in mm", girth, limits.length_and_girth_mm),
    ]
    .into_iter()
    .filter_map(|(what, found, limit)| {
        let limit = limit.filter(|l| found > *l)?;
        Some(format!("{what} is {found:.1}; the carrier takes {limit}. Choose another carrier, or a smaller piece."))
    })
    .collect()
}

fn steps(piece: &Piece, cushion: f64, drop_mm: f64) -> Vec<String> {
    let mut list = Vec::new();
    if fragile_glazing(piece) {
        list.push("Tape the glass crosswise with low-tack tape over a sheet of film, so that splinters stay up; wear cut gloves. Or send it with acrylic instead.".into());
    } else {
        list.push("Leave the acrylic's film on, or lay soft tissue over it: it scratches.".into());
    }
    list.push(
        "Stand the piece up and tap the back: what rattles is bonded again before it travels."
            .into(),
    );
    list.push("Wrap it in a bag against damp; put a guard on each corner.".into());
    list.push(format!("Cushion all six sides with {cushion:.0} mm of foam, corners first; nothing of the frame touches the box."));
    list.push(format!("Close the box, shake it: nothing moves. It is meant to bear falls from {drop_mm:.0} mm in a test of {FALLS}."));
    list.push("Mark which way is up and that it is fragile; put the address inside too.".into());
    list
}

fn figures(c: &Carriage) -> Vec<Figure> {
    let one =
        |code: &str, name: &str, value: f64, unit: &str, source: &str, standing: Standing| Figure {
            code: format!("carriage.{code}"),
            name: name.into(),
            value,
            unit: unit.into(),
            source: source.into(),
            standing,
        };
    let s = |code: &str, name: &str, v: &piece::Sourced<f64>, unit: &str| {
        one(code, name, v.value, unit, &v.source, v.standing)
    };
    let mut list = vec![
        s(
            "divisor_cm3_per_kg",
            "volume charged as one kilogram",
            &c.divisor_cm3_per_kg,
            "cm3/kg",
        ),
        s(
            "round_kg",
            "charged mass is rounded up to",
            &c.round_kg,
            "kg",
        ),
        s(
            "fragility_g",
            "shock that the piece bears",
            &c.fragility_g,
            "g",
        ),
        s("cushion_factor", "cushion factor", &c.cushion_factor, ""),
        s(
            "cushion_load_kpa",
            "load that the foam likes best",
            &c.cushion_load_kpa,
            "kPa",
        ),
        s(
            "cushion_kg_per_m3",
            "foam's density",
            &c.cushion_kg_per_m3,
            "kg/m3",
        ),
        s("box_wall_mm", "wall of the box", &c.box_wall_mm, "mm"),
        s("box_g_per_m2", "board of the box", &c.box_g_per_m2, "g/m2"),
    ];
    for d in &c.drops.value {
        list.push(one(
            &format!("drop_below_{}_kg", d.below_kg),
            "drop height",
            d.height_mm,
            "mm",
            &c.drops.source,
            c.drops.standing,
        ));
    }
    list
}
