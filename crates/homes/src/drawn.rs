//! Homes from a drawing of the device, and homes of parts that came from another device.

use piece::Home;
use shape::registration::{Options, Registration, register};
use shape::{Bounds, Cancelled, Outline, Point, Watch};

/// Less of both edges meeting than this: another shape.
const LEAST_MEETING: f64 = 0.6;

/// Edges that meet lie no farther apart than this on average, mm: parts are captured to a tenth, drawings show nominal sizes.
const FARTHEST_RMS_MM: f64 = 0.6;

/// One named outline of a drawing of the device, seen from its front.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnPart {
    /// Its name: a part's id or name, then perhaps `@` and its layer.
    pub name: String,
    /// Its outline where it sits, mm in drawing coordinates.
    pub outline: Outline,
}

impl DrawnPart {
    /// As [`name_and_layer`] reads its name.
    pub fn name_and_layer(&self) -> (&str, Option<u32>) {
        name_and_layer(&self.name)
    }
}

/// A drawn outline's name without its layer, and the layer, as in `reflector@1`.
pub fn name_and_layer(written: &str) -> (&str, Option<u32>) {
    match written.rsplit_once('@') {
        Some((name, layer)) => match layer.trim().parse() {
            Ok(layer) => (name.trim(), Some(layer)),
            Err(_) => (written.trim(), None),
        },
        None => (written.trim(), None),
    }
}

/// Whether an outline of this name is that of the whole device.
pub fn names_device(written: &str) -> bool {
    name_and_layer(written).0.eq_ignore_ascii_case("device")
}

/// Why a part does not take a place.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlaceError {
    /// The outlines differ.
    #[error(
        "it has another shape than its place: {:.0} % of both edges meet, {edge_rms_mm:.2} mm apart; it overhangs by \
         {overhang_mm:.1} mm", 100.0 * .edge_share
    )]
    OtherShape {
        /// Share of both edges that meet.
        edge_share: f64,
        /// How far apart those lie.
        edge_rms_mm: f64,
        /// How far the part reaches over its place.
        overhang_mm: f64,
    },
    /// It fits turned over alone.
    #[error("it fits its place only turned over; capture its other face, or show its back")]
    TurnedOver,
    /// Stopped by the caller.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

/// The lower-left corner of a drawn device: of the outline named `device`, else of all outlines together.
pub fn drawn_origin(parts: &[DrawnPart]) -> Option<Point> {
    let named = parts.iter().find(|p| names_device(&p.name));
    let bounds = match named {
        Some(device) => Some(device.outline.bounds()),
        None => parts
            .iter()
            .map(|p| p.outline.bounds())
            .reduce(Bounds::joined),
    };
    bounds.map(|b| b.min)
}

/// The home of a part whose place a drawing shows.
///
/// `origin` is the device's lower-left corner in the drawing.
///
/// # Errors
/// [`PlaceError`] where the outlines differ.
pub fn home_in_drawing(
    part: &Outline,
    drawn: &Outline,
    origin: Point,
    layer: u32,
    watch: &dyn Watch,
) -> Result<Home, PlaceError> {
    let placed = fitted(part, drawn, watch)?;
    let pose = placed.b_from_a;
    Ok(Home {
        x: pose.x - origin.x,
        y: pose.y - origin.y,
        turn_deg: upright(pose.turn_deg),
        layer,
    })
}

/// The home of a part that takes another's place: a donor's of a sibling. It lies as the other one did.
///
/// # Errors
/// [`PlaceError`] where it has another shape.
pub fn home_of_place(
    filler: &Outline,
    place: &Outline,
    place_home: Home,
    watch: &dyn Watch,
) -> Result<Home, PlaceError> {
    let placed = fitted(filler, place, watch)?;
    let pose = place_home.device_from_part().after(placed.b_from_a);
    Ok(Home {
        x: pose.x,
        y: pose.y,
        turn_deg: upright(pose.turn_deg),
        layer: place_home.layer,
    })
}

fn fitted(part: &Outline, place: &Outline, watch: &dyn Watch) -> Result<Registration, PlaceError> {
    let good = |r: &Registration| r.edge_share >= LEAST_MEETING && r.edge_rms_mm <= FARTHEST_RMS_MM;
    let as_it_is = register(part, place, &Options::default(), watch)?;
    if good(&as_it_is) {
        return Ok(as_it_is);
    }
    let over = register(&part.mirrored(), place, &Options::default(), watch)?;
    if good(&over) {
        return Err(PlaceError::TurnedOver);
    }
    Err(PlaceError::OtherShape {
        edge_share: as_it_is.edge_share,
        edge_rms_mm: as_it_is.edge_rms_mm,
        overhang_mm: as_it_is.overhang_mm,
    })
}

fn upright(turn_deg: f64) -> f64 {
    let turn = (turn_deg + 180.0).rem_euclid(360.0) - 180.0;
    // A hair's breadth of noise is no turn.
    if turn.abs() < 1e-9 { 0.0 } else { turn }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shape::{Pose, Silent};

    fn bracket() -> Outline {
        let points = [
            (0.0, 0.0),
            (30.0, 0.0),
            (30.0, 18.0),
            (22.0, 18.0),
            (22.0, 7.0),
            (0.0, 7.0),
        ];
        Outline::try_new(points.map(|(x, y)| Point::new(x, y)).to_vec(), vec![]).unwrap()
    }

    /// Truth: placed by construction.
    #[test]
    fn a_part_goes_where_the_drawing_shows_it() {
        let truth = Pose::new(40.0, 60.0, 90.0);
        let drawn = bracket().placed(truth);
        let home = home_in_drawing(&bracket(), &drawn, Point::new(10.0, 20.0), 2, &Silent).unwrap();
        assert!(
            (home.x - 30.0).abs() < 0.02 && (home.y - 40.0).abs() < 0.02,
            "{home:?}"
        );
        assert!(
            (home.turn_deg - 90.0).abs() < 0.02 && home.layer == 2,
            "{home:?}"
        );
    }

    /// Truth: the donor's part was captured lying askew.
    #[test]
    fn a_donors_part_takes_the_home_of_the_place_it_fills() {
        let lay = Pose::new(5.0, -3.0, 37.0);
        let (donor, shift) = bracket().placed(lay).at_origin();
        let place_home = Home {
            x: 12.0,
            y: 8.0,
            turn_deg: -20.0,
            layer: 1,
        };
        let home = home_of_place(&donor, &bracket(), place_home, &Silent).unwrap();
        let at = home.device_from_part().apply(donor.centroid());
        let truth = place_home.device_from_part().apply(bracket().centroid());
        assert!(at.distance_mm(truth) < 0.03, "{at:?} {truth:?} {shift:?}");
        assert!(
            (home.turn_deg - (-57.0)).abs() < 0.05 && home.layer == 1,
            "{home:?}"
        );
    }

    #[test]
    fn a_mirrored_part_and_another_part_are_told_apart() {
        let place_home = Home {
            x: 0.0,
            y: 0.0,
            turn_deg: 0.0,
            layer: 0,
        };
        let mirrored = home_of_place(&bracket().mirrored(), &bracket(), place_home, &Silent);
        assert_eq!(mirrored, Err(PlaceError::TurnedOver));
        let other = Outline::rectangle(Point::new(0.0, 0.0), Point::new(12.0, 40.0)).unwrap();
        let refused = home_of_place(&other, &bracket(), place_home, &Silent);
        assert!(
            matches!(refused, Err(PlaceError::OtherShape { .. })),
            "{refused:?}"
        );
    }

    #[test]
    fn a_layer_stands_behind_the_name() {
        let named = |name: &str| DrawnPart {
            name: name.into(),
            outline: bracket(),
        };
        assert_eq!(
            named("main board @ 3").name_and_layer(),
            ("main board", Some(3))
        );
        assert_eq!(named("a@b").name_and_layer(), ("a@b", None));
        assert_eq!(named("cell").name_and_layer(), ("cell", None));
    }
}
