//! Instances of the packing literature: what is read is what was written, what is none is refused with its place.

mod common;

use common::is_sound;
use nest::{Budget, Instance, InstanceError, ItemId, MAX_INSTANCE_BYTES, Turns, fill_strip};
use serde_json::{Value, json};
use shape::{OutlineError, Point, RingError, Silent};

fn instance() -> Value {
    json!({
        "name": "four kinds",
        "strip_height": 10.0,
        "collection": "not used",
        "items": [
            { "id": 7, "demand": 3, "allowed_orientations": [0.0, 180.0],
              "shape": { "type": "simple_polygon", "data": [[0, 0], [6, 0], [0, 5], [0, 0]] } },
            { "id": "plate", "demand": 2, "dxf": "not used",
              "shape": { "type": "polygon", "data": {
                  "outer": [[0, 0], [8, 0], [8, 8], [0, 8]],
                  "inner": [[[1, 1], [4, 1], [4, 4], [1, 4]], [[5, 5], [7, 5], [7, 7]]] } } },
            { "demand": 0,
              "shape": { "type": "rectangle", "data": { "x_min": -1, "y_min": 2, "width": 3, "height": 1.5 } } },
            { "id": null, "demand": 1,
              "shape": { "data": [[0, 0], [1, 0], [1, 1]], "type": "simple_polygon" } },
        ],
    })
}

fn read(instance: &Value) -> Result<Instance, InstanceError> {
    Instance::from_json(instance.to_string().as_bytes())
}

/// The instance with one value changed.
fn with(place: &str, value: Value) -> Value {
    let mut changed = instance();
    *changed.pointer_mut(place).expect("a place of the instance") = value;
    changed
}

/// One item, a hundredth of the strip's height wide, in another unit.
fn in_unit(strip_height: f64) -> Value {
    let side = strip_height / 100.0;
    json!({ "strip_height": strip_height, "items": [{ "demand": 1, "shape": {
        "type": "rectangle", "data": { "x_min": 0, "y_min": side, "width": side, "height": side },
    } }] })
}

fn of_rings(outer: &Value, inner: &Value) -> Value {
    json!({ "strip_height": 10, "items": [{ "demand": 1, "shape": {
        "type": "polygon", "data": { "outer": outer, "inner": inner },
    } }] })
}

/// Truth: areas by hand, times the scale twice.
#[test]
fn items_come_with_their_areas_holes_turns_and_names() {
    let read = read(&instance()).unwrap();
    assert_eq!(
        (read.name(), read.strip_height()),
        (Some("four kinds"), 10.0)
    );
    // 1024 / 10 lies between 2^6 and 2^7.
    assert_eq!(read.scale(), 64.0);
    let areas: Vec<f64> = read
        .items()
        .iter()
        .map(|i| i.outline.area_mm2() / (64.0 * 64.0))
        .collect();
    assert_eq!(areas, [15.0, 64.0 - 9.0 - 2.0, 4.5, 0.5]);
    assert_eq!(read.items()[1].outline.holes().len(), 2);
    let demands: Vec<usize> = read.items().iter().map(|i| i.demand).collect();
    assert_eq!(demands, [3, 2, 0, 1]);
    assert_eq!(read.items()[0].turns, Turns::Listed(vec![0.0, 180.0]));
    assert_eq!(read.items()[1].turns, Turns::Free);
    assert_eq!(read.id(0), Some(&ItemId::Number(7.into())));
    assert_eq!(read.id(1), Some(&ItemId::Text("plate".into())));
    assert_eq!((read.id(2), read.id(3), read.id(99)), (None, None, None));
    assert_eq!(read.label(0), "items[0] (id 7)");
    assert_eq!(read.label(1), "items[1] (id \"plate\")");
    assert_eq!(read.label(2), "items[2]");
}

#[test]
fn what_was_read_is_placed_soundly() {
    let read = read(&instance()).unwrap();
    let strip = read.strip(0.25).unwrap();
    assert_eq!((strip.height_mm(), strip.spacing().gap_mm), (640.0, 16.0));
    let budget = Budget {
        steps: 200,
        ..Budget::default()
    };
    let filled = fill_strip(read.items(), &strip, &budget, &Silent).unwrap();
    is_sound(
        read.items(),
        &filled.placements,
        [filled.length_mm, 640.0],
        16.0,
        0.0,
    );
}

/// A power of two has no bit set but those of its exponent.
#[test]
fn the_scale_is_a_power_of_two_whatever_the_unit() {
    for height in [1e-6, 0.3, 1.0, 10.0, 1000.0, 1024.0, 1025.0, 40_000.0, 1e12] {
        let scale = read(&in_unit(height)).unwrap().scale();
        assert_eq!(scale.to_bits() << 12, 0, "{height}: {scale}");
        let scaled = height * scale;
        assert!(scaled > 512.0 && scaled <= 1024.0, "{height}: {scaled}");
    }
}

/// Truth: each point of the file, carried by the pose, is the point of the placed outline over the scale.
#[test]
fn places_are_told_for_the_files_own_coordinates_also_where_they_were_far_away() {
    let far = [[3e6, -2e6], [3e6 + 4.0, -2e6], [3e6, -2e6 + 3.0]];
    for points in [far, [[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]]] {
        let read = read(&json!({ "strip_height": 10, "items": [
            { "demand": 2, "allowed_orientations": [90], "shape": { "type": "simple_polygon", "data": points } },
        ] }))
        .unwrap();
        let strip = read.strip(0.0).unwrap();
        let filled = fill_strip(read.items(), &strip, &Budget::default(), &Silent).unwrap();
        assert_eq!(filled.placements.len(), 2);
        for placement in &filled.placements {
            let outline = read.items()[0].outline.placed(placement.strip_from_item);
            let pose = read.strip_from_file(placement);
            for (there, point) in outline.outer().points().iter().zip(points) {
                let here = pose.apply(Point::from(point));
                assert!((here.x - there.x / read.scale()).abs() < 1e-8);
                assert!((here.y - there.y / read.scale()).abs() < 1e-8);
            }
        }
    }
}

/// A square of 9 x 9 drawn in one stroke with a slit to its hole of 3 x 3.
fn slit() -> Value {
    json!([
        [0, 0],
        [9, 0],
        [9, 9],
        [0, 9],
        [0, 0],
        [3, 3],
        [3, 6],
        [6, 6],
        [6, 3],
        [3, 3]
    ])
}

/// Truth: areas by hand, scaled by 64.
#[test]
fn a_ring_that_touches_itself_is_taken_as_what_it_encloses() {
    let slit = slit();
    let area = |inner: Value, holes: usize| {
        let read = read(&of_rings(&slit, &inner)).unwrap();
        let outline = &read.items()[0].outline;
        assert_eq!(outline.holes().len(), holes);
        outline.area_mm2() / (64.0 * 64.0)
    };
    assert!((area(json!([]), 1) - 72.0).abs() < 1e-6);
    // Holes of its own stay.
    let second = json!([[[7, 7], [8, 7], [8, 8], [7, 8]]]);
    assert!((area(second, 2) - 71.0).abs() < 1e-6);
}

#[test]
fn a_ring_that_crosses_itself_or_falls_apart_is_refused() {
    let slit = slit();
    let none = json!([]);
    let bow = json!([[0, 0], [6, 5], [6, 0], [0, 4]]);
    let two_in_a_point = json!([[0, 0], [8, 0], [8, 4], [4, 0], [0, 4]]);
    // Its hole reaches over the edge, into the other hole, out of all.
    let over = json!([[[8, 8], [10, 8], [10, 8.5], [8, 8.5]]]);
    let into = json!([[[5, 5], [7, 5], [7, 7], [5, 7]]]);
    let out = json!([[[20, 20], [21, 20], [21, 21]]]);
    for (outer, inner) in [
        (&bow, &none),
        (&two_in_a_point, &none),
        (&slit, &over),
        (&slit, &into),
        (&slit, &out),
    ] {
        let refused = read(&of_rings(outer, inner)).unwrap_err();
        assert!(
            matches!(
                refused,
                InstanceError::BadShape {
                    item: 0,
                    source: OutlineError::Outer(RingError::CrossesItself { .. }),
                    ..
                }
            ),
            "{refused}"
        );
    }
}

#[test]
fn fields_that_cannot_be_are_refused_by_their_path() {
    let spoilt = [
        ("/strip_height", json!("ten"), "strip_height: "),
        ("/name", json!(3), "name: "),
        ("/items", json!({}), "items: "),
        ("/items/0/id", json!([1, 2]), "items[0].id: "),
        ("/items/0/id", json!(true), "items[0].id: "),
        ("/items/0/demand", json!(-1), "items[0].demand: "),
        ("/items/0/demand", json!(1.5), "items[0].demand: "),
        (
            "/items/0/allowed_orientations/1",
            json!("up"),
            "items[0].allowed_orientations[1]: ",
        ),
        (
            "/items/0/shape/type",
            json!("blob"),
            "items[0].shape.type: ",
        ),
        ("/items/0/shape/data", json!(5), "items[0].shape.data: "),
        (
            "/items/0/shape/data/1",
            json!([9, null]),
            "items[0].shape.data[1][1]: ",
        ),
        ("/items/0/shape/data", json!({}), "items[0].shape.data: "),
        ("/items/1/shape/data", json!([]), "items[1].shape.data: "),
        ("/items/1/shape/data", json!({}), "items[1].shape.data: "),
        (
            "/items/1/shape/data/inner/1/0",
            json!([1]),
            "items[1].shape.data.inner[1][0]: ",
        ),
        ("/items/2/shape/data", json!([]), "items[2].shape.data: "),
        (
            "/items/2/shape/data/width",
            json!(null),
            "items[2].shape.data: ",
        ),
    ];
    for (place, value, path) in spoilt {
        let refused = read(&with(place, value)).unwrap_err();
        let said = refused.to_string();
        assert!(matches!(refused, InstanceError::Malformed { .. }), "{said}");
        assert!(said.starts_with(path), "{place}: {said}");
    }
}

#[test]
fn what_has_no_possible_shape_is_refused_by_its_item_and_id() {
    let spoilt = [
        (
            "/items/0/shape/data",
            json!([[0, 0], [1, 1]]),
            "items[0] (id 7): ",
        ),
        ("/items/0/shape/data", json!([]), "items[0] (id 7): "),
        (
            "/items/0/shape/data",
            json!([[0, 0], [1, 1], [2, 2]]),
            "items[0] (id 7): ",
        ),
        (
            "/items/1/shape/data/inner/0/0",
            json!([-1, -1]),
            "items[1] (id \"plate\"): ",
        ),
        (
            "/items/1/shape/data/outer/0",
            json!([1e300, 0]),
            "items[1] (id \"plate\"): ",
        ),
        ("/items/2/shape/data/width", json!(0), "items[2]: "),
    ];
    for (place, value, label) in spoilt {
        let refused = read(&with(place, value)).unwrap_err();
        let said = refused.to_string();
        assert!(matches!(refused, InstanceError::BadShape { .. }), "{said}");
        assert!(said.starts_with(label), "{place}: {said}");
    }
    // Each is a number, their sum is none.
    let mut huge = with("/items/2/shape/data/width", json!(1.7e308));
    huge["items"][2]["shape"]["data"]["x_min"] = json!(1.7e308);
    let refused = read(&huge).unwrap_err();
    assert_eq!(refused, InstanceError::NoNumber { item: 2, id: None });
}

#[test]
fn heights_that_no_strip_has_are_refused() {
    for height in [0.0, -10.0, 1e-7, 1e13, 1e308] {
        let refused = read(&with("/strip_height", json!(height))).unwrap_err();
        assert_eq!(refused, InstanceError::BadHeight { found: height });
    }
}

#[test]
fn more_items_points_or_bytes_than_the_limit_are_refused() {
    let items =
        |n: usize, item: &Value| json!({ "strip_height": 10, "items": vec![item.clone(); n] });
    let triangle = &instance()["items"][3];
    assert_eq!(read(&items(2_000, triangle)).unwrap().items().len(), 2_000);
    let refused = read(&items(2_001, triangle)).unwrap_err();
    assert!(matches!(
        refused,
        InstanceError::TooMany { what: "items", .. }
    ));
    let round: Vec<[f64; 2]> = (0..10_001)
        .map(|k| f64::from(k) * std::f64::consts::TAU / 10_001.0)
        .map(|t| [5.0 * t.cos(), 5.0 * t.sin()])
        .collect();
    let disc = json!({ "demand": 1, "shape": { "type": "simple_polygon", "data": round } });
    let refused = read(&items(10, &disc)).unwrap_err();
    assert!(matches!(
        refused,
        InstanceError::TooMany { what: "points", .. }
    ));
    let found = MAX_INSTANCE_BYTES + 1;
    let refused = Instance::from_json(&vec![b' '; found]).unwrap_err();
    assert_eq!(refused, InstanceError::TooLarge { found });
}

#[test]
fn a_text_that_is_cut_or_goes_on_is_refused() {
    let text = instance().to_string();
    for cut in [0, 1, 90, text.len() - 1] {
        let refused = Instance::from_json(&text.as_bytes()[..cut]).unwrap_err();
        assert!(
            matches!(refused, InstanceError::Malformed { .. }),
            "{cut}: {refused}"
        );
    }
    let refused = Instance::from_json(format!("{text} {{}}").as_bytes()).unwrap_err();
    assert!(refused.to_string().contains("more follows"), "{refused}");
}
