//! Groups stay together, turns are kept, and nesting is only where it is allowed.

#![allow(missing_docs, clippy::unwrap_used)]

mod devices;

use arrange::{ArrangeError, FixedWidth, Options, arrange_with, check};
use devices::{disc, faults, frame, generated, laid_out, part, rounded};
use piece::{Level, PartId, PartKind, Piece, Placement, Turns};
use shape::{Bounds, Outline};

fn quick(seed: u64) -> Options {
    Options {
        seed,
        steps: 600,
        ..Options::default()
    }
}

fn arranged(piece: &Piece, options: &Options) -> Result<Piece, ArrangeError> {
    let found = arrange_with(piece, options, &FixedWidth, &shape::Silent)?;
    Ok(laid_out(piece, found))
}

fn block_of(piece: &Piece, group: &str) -> Bounds {
    let own = piece.outlines_on_board();
    let own = own
        .iter()
        .filter(|(p, _)| p.group.as_deref() == Some(group));
    own.map(|(_, o)| o.bounds()).reduce(Bounds::joined).unwrap()
}

/// Measured here, without `check`: no part that is not of the group reaches into the box round it.
fn assert_together(piece: &Piece, group: &str) {
    let block = block_of(piece, group).grown(-1e-6);
    for (p, o) in piece.outlines_on_board() {
        if p.group.as_deref() != Some(group) {
            let apart = o.bounds().distance_mm(block);
            assert!(apart > 0.0, "{} in the group {group}", p.id);
        }
    }
}

#[test]
fn parts_of_a_group_stay_together_whatever_their_layers() {
    for seed in 0..8 {
        let mut piece = generated(seed, 16, frame(600.0, 700.0));
        for k in [1, 5, 9, 11] {
            piece.parts[k].group = Some("sound".into());
        }
        for k in [2, 7] {
            piece.parts[k].group = Some("sight".into());
        }
        let laid_out = arranged(&piece, &quick(seed)).unwrap();
        assert_together(&laid_out, "sound");
        assert_together(&laid_out, "sight");
        assert_eq!(faults(&laid_out), Vec::<String>::new());
        assert!(!check(&laid_out).iter().any(|f| f.code == "caption.missing"));
    }
}

fn pin(piece: &mut Piece, index: usize, x: f64, y: f64) {
    piece.placements.push(Placement {
        part: piece.parts[index].id.clone(),
        x,
        y,
        turn_deg: 0.0,
        pinned: true,
    });
}

#[test]
fn the_loose_parts_of_a_group_go_to_its_pinned_one() {
    for seed in 0..6 {
        let mut piece = generated(seed, 14, frame(600.0, 700.0));
        for k in [3, 6, 8] {
            piece.parts[k].group = Some("sound".into());
        }
        pin(&mut piece, 3, 240.0, 330.0);
        let pinned = piece.placements[0].clone();
        let laid_out = arranged(&piece, &quick(seed)).unwrap();
        assert_eq!(laid_out.placement(&pinned.part), Some(&pinned));
        assert_together(&laid_out, "sound");
        assert_eq!(faults(&laid_out), Vec::<String>::new());
    }
}

#[test]
fn pinned_parts_of_a_group_with_another_pinned_between_them_are_a_contradiction_told_by_name() {
    let mut piece = generated(2, 14, frame(600.0, 700.0));
    for k in [3, 6, 8] {
        piece.parts[k].group = Some("sound".into());
    }
    pin(&mut piece, 3, 60.0, 330.0);
    pin(&mut piece, 6, 450.0, 330.0);
    pin(&mut piece, 4, 250.0, 332.0);
    let error = arranged(&piece, &quick(1)).unwrap_err();
    let ArrangeError::GroupTorn { group, between, .. } = &error else {
        panic!("{error}");
    };
    assert_eq!(group, "sound");
    assert_eq!(between.as_ref(), Some(&piece.parts[4].id));
    let text = error.to_string();
    assert!(
        text.contains(&piece.parts[4].name) && text.contains("let one of them loose"),
        "{text}"
    );
}

#[test]
fn a_group_larger_than_the_window_is_refused_with_a_frame_that_does() {
    let mut piece = Piece::new("Plates", frame(200.0, 200.0));
    for k in 0..4 {
        let plate = rounded(0.0, 0.0, 90.0, 90.0, 2.0);
        let id = format!("p{k}");
        let mut p = part(&id, &format!("Plate {k}"), PartKind::Other, k, &plate);
        p.group = Some("all".into());
        piece.parts.push(p);
    }
    let error = arranged(&piece, &quick(1)).unwrap_err();
    let ArrangeError::GroupTooLarge {
        group,
        least_frame_mm: Some(size_mm),
        ..
    } = error
    else {
        panic!("{error}");
    };
    assert_eq!(group, "all");
    piece.frame.size_mm = size_mm;
    assert_eq!(
        faults(&arranged(&piece, &Options::default()).unwrap()),
        Vec::<String>::new()
    );
}

#[test]
fn a_stranger_in_a_group_is_a_finding() {
    let mut piece = Piece::new("Plates", frame(300.0, 400.0));
    for (k, x) in [50.0, 100.0, 150.0].into_iter().enumerate() {
        let plate = rounded(0.0, 0.0, 40.0, 30.0, 2.0);
        let mut p = part(
            &format!("p{k}"),
            &format!("Plate {k}"),
            PartKind::Other,
            0,
            &plate,
        );
        if k != 1 {
            p.group = Some("pair".into());
        }
        piece.parts.push(p);
        piece.placements.push(Placement {
            part: PartId::try_new(format!("p{k}")).unwrap(),
            x,
            y: 100.0,
            turn_deg: 0.0,
            pinned: false,
        });
    }
    let torn: Vec<_> = check(&piece)
        .into_iter()
        .filter(|f| f.code == "layout.group-torn")
        .collect();
    assert_eq!(torn.len(), 1);
    assert_eq!(torn[0].parts, vec![PartId::try_new("p1").unwrap()]);
    assert!(
        torn[0].text.contains("Plate 1") && torn[0].text.contains("pair"),
        "{}",
        torn[0].text
    );
}

#[test]
fn a_turn_that_is_not_allowed_is_a_finding_unless_the_part_is_pinned() {
    let mut piece = Piece::new("Plate", frame(300.0, 400.0));
    let plate = rounded(0.0, 0.0, 40.0, 30.0, 2.0);
    piece
        .parts
        .push(part("p", "Plate", PartKind::Other, 0, &plate));
    piece.placements.push(Placement {
        part: PartId::try_new("p").unwrap(),
        x: 120.0,
        y: 200.0,
        turn_deg: 90.0,
        pinned: false,
    });
    let turned = |piece: &Piece| check(piece).iter().any(|f| f.code == "layout.turn");
    assert!(turned(&piece));
    piece.parts[0].turns = Turns::Quarter;
    assert!(!turned(&piece));
    piece.placements[0].turn_deg = 45.0;
    assert!(turned(&piece));
    piece.placements[0].pinned = true;
    assert!(!turned(&piece));
    piece.placements[0].pinned = false;
    piece.parts[0].turns = Turns::Free;
    assert!(!turned(&piece));
}

#[test]
fn parts_lie_in_holes_only_where_nesting_is_allowed() {
    let ring = Outline::try_new(
        disc(0.0, 0.0, 60.0).outer().points().to_vec(),
        vec![disc(0.0, 0.0, 50.0).outer().points().to_vec()],
    )
    .unwrap();
    // A field of 130 x 130 mm, a ring of 120 mm across, and a disc of 60 mm: only in the ring is there room.
    let mut piece = Piece::new("Ring", frame(176.0, 182.0));
    piece
        .parts
        .push(part("ring", "Ring", PartKind::Other, 0, &ring));
    piece.parts.push(part(
        "disc",
        "Disc",
        PartKind::Other,
        1,
        &disc(0.0, 0.0, 30.0),
    ));
    let nested = arranged(&piece, &quick(1)).unwrap();
    assert!(
        check(&nested)
            .iter()
            .all(|f| f.level != Level::Stop && !f.code.starts_with("layout."))
    );
    piece.layout.nesting = false;
    let error = arranged(&piece, &quick(1)).unwrap_err();
    assert!(matches!(error, ArrangeError::NoRoom { .. }), "{error}");
    let mut forbidden = nested.clone();
    forbidden.layout.nesting = false;
    assert!(check(&forbidden).iter().any(|f| f.code == "layout.nested"));
}
