//! Any bytes: no panic; a catalogue that is read plans a small piece.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let Ok(catalogue) = mount::Catalogue::with_json(bytes) else {
        return;
    };
    let outline = shape::Outline::rectangle(
        shape::Point::new(0.0, 0.0),
        shape::Point::new(40.0, 30.0),
    );
    let (Ok(outline), Ok(id)) = (outline, piece::PartId::try_new("p1")) else {
        return;
    };
    let side = |v| piece::Margin {
        left: v,
        right: v,
        top: v,
        bottom: v,
    };
    let frame = piece::Frame {
        size_mm: [200.0, 200.0],
        lip_mm: 6.0,
        board_clearance_mm: 2.0,
        rebate_depth_mm: Some(30.0),
        margin_mm: side(10.0),
        spacer_width_mm: 5.0,
        glazing: None,
    };
    let mut piece = piece::Piece::new("Fuzzed", frame);
    piece.placements = vec![piece::Placement {
        part: id.clone(),
        x: 40.0,
        y: 40.0,
        turn_deg: 30.0,
        pinned: false,
    }];
    let mut part = piece::Part::new(id, "Shell", piece::PartKind::Shell, outline);
    (part.wall_mm, part.inner_depth_mm) = (Some(1.5), Some(8.0));
    piece.parts = vec![part];
    let plan = mount::plan(&piece, &catalogue, &shape::Silent).unwrap();
    piece.build = Some(plan);
    assert!(piece.check_sound().is_ok());
});
