//! Verdict, cost, parcel and leftovers: by hand, by closed forms, and by their documents.

#![allow(
    clippy::unwrap_used,
    clippy::type_complexity,
    reason = "helpers of tests may panic too; cases are tuples"
)]

use ledger::cost::{LearningModel, Pricing, Rates, reckon};
use ledger::donors::{LotChances, Market};
use ledger::drawer::Drawer;
use ledger::intake::{ActionKind, DeviceKind, Experience, Intake, judge};
use ledger::leftovers::{Stream, Thing, leftovers};
use ledger::parcel::{Carriage, CellRating, ParcelOptions, pack, statement};
use ledger::table::to_xlsx;
use ledger::{Chance, Currency, LedgerError, Minor, Share};
use piece::{Frame, Margin, Moulding, Piece, Standing};
use proptest::prelude::*;

fn eur() -> Currency {
    Currency::try_new("EUR").unwrap()
}

fn piece() -> Piece {
    let margin_mm = Margin {
        left: 12.0,
        right: 12.0,
        top: 12.0,
        bottom: 18.0,
    };
    let frame = Frame {
        size_mm: [300.0, 400.0],
        lip_mm: 6.0,
        board_clearance_mm: 2.0,
        rebate_depth_mm: Some(35.0),
        margin_mm,
        spacer_width_mm: 5.0,
        glazing: Some("float-2".into()),
    };
    Piece::new("Test piece", frame)
}

fn intake(kind: &DeviceKind, signs: &[(&str, &str)]) -> Intake {
    let mut form = Intake::blank(kind, eur());
    for (sign, value) in signs {
        form.signs.insert((*sign).into(), Some((*value).into()));
    }
    form.money.repaired_minor = Some(Minor::try_new(12_000).unwrap());
    form.money.labour_per_hour_minor = Minor::try_new(3_000).unwrap();
    form.money.piece_price_minor = Some(Minor::try_new(20_000).unwrap());
    form.money.piece_cost_minor = Some(Minor::try_new(12_000).unwrap());
    form
}

fn handheld() -> DeviceKind {
    DeviceKind::built_in()
        .unwrap()
        .into_iter()
        .find(|k| k.id == "handheld")
        .unwrap()
}

/// Bayes by hand: share times likelihoods, over their sum.
#[test]
fn chances_after_signs_are_shares_times_likelihoods() {
    let kind = handheld();
    let form = intake(&kind, &[("supply", "high"), ("liquid", "none")]);
    let verdict = judge(&form, &kind, &Experience::none(&kind), None).unwrap();
    let place = |sign: &str, value: &str| {
        kind.sign(sign)
            .unwrap()
            .values
            .iter()
            .position(|v| v.id == value)
            .unwrap()
    };
    let likelihood = |sign: &str, value: &str, c: &str| {
        kind.sign(sign).unwrap().likelihood[c][place(sign, value)]
    };
    let both: Vec<(String, f64)> = kind
        .conditions
        .iter()
        .map(|c| {
            (
                c.id.clone(),
                c.share * likelihood("supply", "high", &c.id) * likelihood("liquid", "none", &c.id),
            )
        })
        .collect();
    let sum: f64 = both.iter().map(|b| b.1).sum();
    for (id, b) in both {
        let found = verdict
            .conditions
            .iter()
            .find(|c| c.condition == id)
            .unwrap();
        assert!((found.chance.get() - b / sum).abs() < 1e-12, "{id}");
    }
    assert_eq!(verdict.conditions[0].condition, "short");
}

#[test]
fn what_brings_most_is_the_verdict_and_each_check_is_worth_no_more_than_knowing_all() {
    let kind = handheld();
    for signs in [
        &[][..],
        &[("known_good", "works")],
        &[("chips", "lifted"), ("known_good", "dead")],
        &[("liquid", "residue")],
    ] {
        let verdict = judge(&intake(&kind, signs), &kind, &Experience::none(&kind), None).unwrap();
        let best = verdict
            .actions
            .iter()
            .map(|a| a.expected_minor)
            .max()
            .unwrap();
        assert_eq!(verdict.actions[0].expected_minor, best);
        assert_eq!(verdict.actions[0].action, verdict.verdict);
        for check in &verdict.next_checks {
            assert!(
                (0..=verdict.perfect_information_minor + 1).contains(&check.worth_minor),
                "{check:?}"
            );
        }
    }
}

/// At the break-even chance, by construction, repair brings what the best of the rest does. One condition, so that no
/// average hides behind another: V = 9,000, failed: 0.85 of the rest.
#[test]
fn at_the_break_even_chance_repair_brings_what_the_rest_does() {
    let mut kind = handheld();
    kind.conditions.truncate(1);
    kind.conditions[0].share = 1.0;
    for sign in &mut kind.signs {
        sign.likelihood.retain(|c, _| *c == kind.conditions[0].id);
    }
    let form = intake(&kind, &[]);
    let chance = judge(&form, &kind, &Experience::none(&kind), None)
        .unwrap()
        .break_even_chance
        .unwrap();
    kind.conditions[0].repair = chance;
    let at = judge(&form, &kind, &Experience::none(&kind), None).unwrap();
    let of = |k: ActionKind| {
        at.actions
            .iter()
            .find(|a| a.action == k)
            .unwrap()
            .expected_minor
    };
    let rest = of(ActionKind::Display).max(of(ActionKind::Recycle));
    assert!(
        (of(ActionKind::Repair) - rest).abs() <= 1,
        "{} {rest}",
        of(ActionKind::Repair)
    );
}

#[test]
fn a_device_that_can_likely_be_repaired_is_not_sacrificed_without_a_warning() {
    let kind = handheld();
    let form = intake(&kind, &[("known_good", "works"), ("supply", "normal")]);
    let verdict = judge(
        &form,
        &kind,
        &Experience::none(&kind),
        Some(ActionKind::Display),
    )
    .unwrap();
    assert!(verdict.repair_chance.get() > 0.7);
    assert!(
        verdict
            .warnings
            .iter()
            .any(|w| w.code == "verdict.likely-repairable")
    );
    let verdict = judge(
        &form,
        &kind,
        &Experience::none(&kind),
        Some(ActionKind::Repair),
    )
    .unwrap();
    assert!(verdict.warnings.is_empty());
}

/// By hand: Beta(0.9 * 20 * 0.48, …) after 3 good and 1 bad; the kind's shares after 5 of 25.
#[test]
fn the_shops_own_outcomes_move_its_numbers_and_are_counted() {
    let kind = handheld();
    let csv = b"kind,condition,repaired,sign:supply,part:board\nhandheld,simple,yes,normal,yes\nhandheld,simple,yes,surges,yes\n\
        handheld,simple,yes,normal,\nhandheld,simple,no,,no\nhandheld,liquid,,,no\nmains,board,no,,\n";
    let own = Experience::from_csv(csv, &kind).unwrap();
    assert_eq!((own.n(), own.n_of(0)), (5, 4));
    let belief = own.repair(&kind, 0);
    let strength = 20.0 * 0.48;
    assert!((belief.mean().get() - (0.9 * strength + 3.0) / (strength + 4.0)).abs() < 1e-12);
    assert_eq!(belief.n, 4);
    let verdict = judge(&intake(&kind, &[]), &kind, &own, None).unwrap();
    let simple = verdict
        .conditions
        .iter()
        .find(|c| c.condition == "simple")
        .unwrap();
    assert!((simple.chance.get() - (0.48 * 20.0 + 4.0) / 25.0).abs() < 1e-12);
    assert_eq!((simple.n, verdict.n), (4, 5));
}

#[test]
fn bad_forms_and_outcomes_are_refused_with_their_place() {
    let kind = handheld();
    let mut form = intake(&kind, &[]);
    form.signs.insert("supply".into(), Some("plenty".into()));
    let said = judge(&form, &kind, &Experience::none(&kind), None)
        .unwrap_err()
        .to_string();
    assert!(
        said.contains("signs.supply") && said.contains("few_ma"),
        "{said}"
    );
    for (csv, word) in [
        ("kind,condition\nhandheld,sad\n", "line 2, column condition"),
        ("kind,cond\n", "no column \"condition\""),
        (
            "kind,condition,repaired\nhandheld,simple,maybe\n",
            "yes nor no",
        ),
        ("kind;condition\n", "semicolons"),
        (
            "kind,condition,sign:smell\nhandheld,simple,bad\n",
            "no such sign",
        ),
    ] {
        let said = Experience::from_csv(csv.as_bytes(), &kind)
            .unwrap_err()
            .to_string();
        assert!(said.contains(word), "{said}");
    }
}

#[test]
fn all_that_comes_with_the_program_is_sound_and_says_its_standing() {
    assert_eq!(DeviceKind::built_in().unwrap().len(), 3);
    for kind in DeviceKind::built_in().unwrap() {
        assert_eq!(kind.standing, Standing::Recalled);
        assert_eq!(
            DeviceKind::from_json(kind.to_json().as_bytes()).unwrap(),
            kind
        );
    }
    let chances = LotChances::built_in().unwrap();
    assert_eq!(
        LotChances::from_json(chances.to_json().as_bytes()).unwrap(),
        chances
    );
    let rates = Rates::built_in().unwrap();
    assert_eq!(Rates::from_json(rates.to_json().as_bytes()).unwrap(), rates);
    let carriage = Carriage::built_in().unwrap();
    assert_eq!(
        Carriage::from_json(carriage.to_json().as_bytes()).unwrap(),
        carriage
    );
}

/// ISO 4217: decimals of the minor unit are 2, 0 and 3.
#[test]
fn amounts_are_read_and_written_with_their_currencys_decimals() {
    for (code, text, minor, shown) in [
        ("EUR", "1234.5", 123_450, "1,234.50 EUR"),
        ("JPY", "1234", 1234, "1,234 JPY"),
        ("KWD", "0.005", 5, "0.005 KWD"),
    ] {
        let currency = Currency::try_new(code).unwrap();
        assert_eq!(Minor::from_decimal(text, currency).unwrap().get(), minor);
        assert_eq!(ledger::Money::new(minor, currency).to_string(), shown);
    }
    for (text, word) in [
        ("12,50", "comma"),
        ("-3", "negative"),
        ("1.234", "decimals"),
        ("1e3", "no amount"),
        ("", "no number"),
        ("99999999999999999999", "counted"),
    ] {
        let said = Minor::from_decimal(text, eur()).unwrap_err();
        assert!(said.contains(word), "{text:?}: {said}");
    }
    assert!(Currency::try_new("EURO").is_err() && Currency::try_new("eur").is_err());
    assert!(
        Minor::try_new(-1).is_err()
            && Chance::try_new(1.2).is_err()
            && Chance::try_new(f64::NAN).is_err()
    );
}

fn plain_rates() -> Rates {
    let mut rates = Rates::built_in().unwrap();
    rates.fee_on_price = Share::NONE;
    rates.fee_fixed_minor = Minor::ZERO;
    rates.tax = Share::NONE;
    rates.scrap = Share::NONE;
    rates.overhead_on_labour = Share::NONE;
    rates.packing_minor = Minor::ZERO;
    rates.round_to_minor = Minor::ZERO;
    rates.batch = None;
    rates.kit = None;
    rates.what_if.clear();
    rates
}

/// FACTS 10: a margin of 50 % is a markup of 100 %.
#[test]
fn a_margin_of_50_percent_is_a_markup_of_100_percent() {
    let mut rates = plain_rates();
    for pricing in [
        Pricing::Margin(Share::try_new(0.5).unwrap()),
        Pricing::Markup(Share::try_new(1.0).unwrap()),
    ] {
        rates.pricing = pricing;
        let quote = reckon(&piece(), &rates, &[("donor".into(), 5_000)])
            .unwrap()
            .finished;
        assert_eq!(
            (quote.total_minor, quote.price_minor, quote.profit_minor),
            (5_000, 10_000, 5_000)
        );
        assert_eq!((quote.margin, quote.markup), (0.5, 1.0));
    }
}

#[test]
fn shares_that_leave_nothing_of_the_price_are_refused() {
    let mut rates = plain_rates();
    rates.fee_on_price = Share::try_new(0.3).unwrap();
    rates.pricing = Pricing::Margin(Share::try_new(0.7).unwrap());
    let said = reckon(&piece(), &rates, &[]).unwrap_err();
    assert!(matches!(said, LedgerError::NoPrice { .. }), "{said}");
}

#[test]
fn what_is_spent_once_comes_back_after_so_many_pieces() {
    let mut rates = plain_rates();
    rates.set_up_minor = Minor::try_new(30_000).unwrap();
    rates.pricing = Pricing::PriceMinor(Minor::try_new(9_000).unwrap());
    // Each brings 9,000 - 5,000: 30,000 / 4,000 = 7.5.
    let quote = reckon(&piece(), &rates, &[("donor".into(), 5_000)])
        .unwrap()
        .finished;
    assert_eq!(quote.break_even_pieces, Some(8));
}

#[test]
fn a_batch_learns_and_says_by_which_model() {
    let mut rates = plain_rates();
    rates.labour = vec![ledger::cost::Labour {
        what: "all of it".into(),
        minutes: 100.0,
    }];
    for (model, average) in [
        (LearningModel::Unit, (1.0 + 0.8) / 2.0),
        (LearningModel::CumulativeAverage, 0.8),
    ] {
        rates.batch = Some(ledger::cost::Batch {
            size: 2,
            done: 0,
            learning: 0.8,
            model,
        });
        let batch = reckon(&piece(), &rates, &[]).unwrap().batch.unwrap();
        assert!((batch.average_minutes - 100.0 * average).abs() < 1e-9);
        assert_eq!(batch.model, model);
    }
}

/// The writer's output is a zip of two equal runs; what is in it, `reference/ledger.py` reads back with openpyxl.
#[test]
fn a_spreadsheet_is_the_same_bytes_each_time() {
    let tables = reckon(
        &piece(),
        &Rates::built_in().unwrap(),
        &[("donor".into(), 5_000)],
    )
    .unwrap()
    .tables();
    let one = to_xlsx("Cost", &tables).unwrap();
    assert_eq!(one, to_xlsx("Cost", &tables).unwrap());
    assert_eq!(&one[..2], b"PK");
}

#[test]
fn a_cell_that_looks_like_a_formula_is_no_formula_in_csv() {
    let drawer = Drawer::from_csv(b"part,condition,name\np1,whole,=1+1\n").unwrap();
    assert!(
        String::from_utf8(drawer.to_csv())
            .unwrap()
            .contains(", =1+1,")
    );
}

/// FACTS 9: ISTA 1A's table; 36 lb from 24 in at 40 g on foam that likes 1.2 psi: 2 in, 30 in2.
#[test]
fn drops_cushions_and_volumes_are_those_of_the_published_examples() {
    let mut carriage = Carriage::built_in().unwrap();
    for (kg, mm) in [
        (9.9, 760.0),
        (10.0, 610.0),
        (18.9, 610.0),
        (19.0, 460.0),
        (28.0, 310.0),
        (45.0, 200.0),
    ] {
        assert_eq!(carriage.drop_mm(kg), Some(mm), "{kg} kg");
    }
    assert_eq!(carriage.drop_mm(70.0), None);
    carriage.fragility_g.value = 40.0;
    assert!((carriage.cushion_mm(24.0 * 25.4) / 25.4 - 2.0).abs() < 0.01);
    assert!((carriage.bearing_mm2(36.0 * 453.592_37) / 645.16 - 30.0).abs() < 0.1);
    // 50 x 40 x 25 cm over 5000 = 10 kg, by hand.
    assert!((carriage.dimensional_kg([500.0, 400.0, 250.0]) - 10.0).abs() < 1e-12);
}

/// A light, large parcel is charged by its volume, and falls by its mass (ISTA 1A, FACTS 9: below 10 kg 760 mm).
#[test]
fn the_steps_name_the_fall_that_the_cushion_is_for() {
    let options = ParcelOptions {
        mass_g: Some(900.0),
        ..ParcelOptions::default()
    };
    let parcel = pack(&piece(), &Carriage::built_in().unwrap(), &options).unwrap();
    assert!(parcel.charged_kg > 10.0 && parcel.mass_g < 10_000.0);
    assert!(parcel.drop_mm == 760.0);
    let falls: Vec<&String> = parcel
        .steps
        .iter()
        .filter(|s| s.contains("bear falls"))
        .collect();
    assert!(
        falls.len() == 1 && falls[0].contains("from 760 mm"),
        "{falls:?}"
    );
}

/// Mounting weighs such a one too.
#[test]
fn a_moulding_that_nobody_named_travels_as_the_usual_one_of_its_rebate() {
    let options = ParcelOptions {
        mass_g: Some(1_000.0),
        ..ParcelOptions::default()
    };
    let carriage = Carriage::built_in().unwrap();
    for rebate_mm in [12.0, 35.0, 60.0] {
        let mut piece = piece();
        piece.frame.rebate_depth_mm = Some(rebate_mm);
        let unsaid = pack(&piece, &carriage, &options).unwrap();
        piece.choices.moulding = Some(Moulding::usual(rebate_mm));
        let said = pack(&piece, &carriage, &options).unwrap();
        assert_eq!(unsaid.piece_mm, said.piece_mm);
        let told = |p: &ledger::parcel::Parcel| p.notes.iter().any(|n| n.contains("moulding"));
        assert!(told(&unsaid) && !told(&said));
    }
}

/// FACTS 7: 14.4 V x 5 Ah = 72 Wh (batteryuniversity 704a).
#[test]
fn a_battery_of_14_4_v_and_5_ah_has_72_wh_and_is_a_small_one() {
    let rating = CellRating {
        name: "pack".into(),
        volts: 14.4,
        amp_hours: 5.0,
        single_cell: false,
    };
    assert!((rating.watt_hours() - 72.0).abs() < 1e-12);
    let said = statement(&piece(), std::slice::from_ref(&rating)).unwrap();
    assert_eq!(said.un_number, Some("UN 3481"));
    assert!(
        said.notes
            .iter()
            .any(|n| n.contains("72.0 Wh; the limit for a small battery is 100 Wh")),
        "{:?}",
        said.notes
    );
    let cell = CellRating {
        single_cell: true,
        ..rating
    };
    let said = statement(&piece(), &[cell]).unwrap();
    assert!(
        said.notes
            .iter()
            .any(|n| n.contains("above the limit of 20 Wh"))
    );
    assert!(statement(&piece(), &[]).unwrap().none);
    let milli = CellRating {
        name: "x".into(),
        volts: 3.7,
        amp_hours: 3000.0,
        single_cell: true,
    };
    assert!(statement(&piece(), &[milli]).is_err());
}

/// Directive 2012/19/EU, Annex VII: boards above 10 cm2, screens above 100 cm2, batteries, telephones' boards always.
#[test]
fn leftovers_go_by_stream_with_the_items_of_annex_vii() {
    let csv = b"name,kind,area_cm2,material,hazard,phone\nBoard,board,10.1,,,\nChip board,board,9.9,,,\nPhone board,board,5,,,yes\n\
        Screen,display,99,,,\nLarge screen,display,101,,,\nCell,cell,,,lithium_cell,\nLamp,other,,,cold_cathode_lamp,\nBack,shell,,abs,,\nPlate,bracket,,steel,,\nUnmeasured,board,,,,\n";
    let left = leftovers(None, &Thing::list_from_csv(csv).unwrap());
    let of = |name: &str| left.lines.iter().find(|l| l.name == name).unwrap();
    for (name, stream, flagged) in [
        ("Board", Stream::Boards, true),
        ("Chip board", Stream::Boards, false),
        ("Phone board", Stream::Boards, true),
        ("Unmeasured", Stream::Boards, true),
        ("Screen", Stream::Screens, false),
        ("Large screen", Stream::Screens, true),
        ("Cell", Stream::Cells, true),
        ("Lamp", Stream::MercuryLamps, true),
        ("Back", Stream::Plastics, false),
        ("Plate", Stream::Metals, false),
    ] {
        assert_eq!(
            (of(name).stream, of(name).annex_vii.is_some()),
            (stream, flagged),
            "{name}"
        );
    }
}

#[test]
fn lots_from_a_table_say_what_is_wrong_and_where() {
    for (csv, word) in [
        ("id,price\na,12,50\n", "decimal comma"),
        ("id;price\na;12,50\n", "semicolons"),
        ("id,price\na,\"12,50\"\n", "comma"),
        ("id,price\na,-3\n", "negative"),
        ("id,price,currency\na,3,USD\n", "two currencies"),
        ("id,price,part:x\na,3,1.5\n", "0 to 1"),
        (
            "id,price,colour\na,3,red\n",
            "does not know the column \"colour\"",
        ),
        ("id,price\na,3\na,4\n", "earlier line"),
        ("id,cost\na,3\n", "no column \"price\""),
        ("id,price,available\na,3,2.5\n", "whole number"),
    ] {
        let said = Market::from_csv(csv.as_bytes(), eur())
            .unwrap_err()
            .to_string();
        assert!(said.contains(word), "{csv:?}: {said}");
    }
}

proptest! {
    /// Margin and markup of a price are what was asked, to a minor unit of rounding; with fees and tax.
    #[test]
    fn the_price_leaves_the_margin_that_was_asked(cost in 1i64..10_000_000, fee in 0u32..300, tax in 0u32..250, asked in 0u32..500) {
        let mut rates = plain_rates();
        let thousandths = |n: u32| Share::try_new(f64::from(n) / 1000.0).unwrap();
        rates.fee_on_price = thousandths(fee);
        rates.tax = thousandths(tax);
        rates.pricing = Pricing::Margin(thousandths(asked));
        let quote = reckon(&piece(), &rates, &[("donor".into(), cost)]).unwrap().finished;
        let short = f64::from(asked) / 1000.0 * quote.net_minor as f64 - quote.profit_minor as f64;
        // Never less than asked by more than the rounding of fees and tax, nor more by more than a few units.
        prop_assert!(short < 2.0 && short > -5.0, "{quote:?}");
        prop_assert_eq!(quote.profit_minor + quote.total_minor + quote.tax_minor, quote.price_minor);
        prop_assert!(quote.break_even_price_minor <= quote.price_minor);
        let markup = quote.margin / (1.0 - quote.margin);
        prop_assert!((quote.markup - markup).abs() < 1e-9);
    }

    #[test]
    fn a_drawer_written_as_a_table_is_read_as_the_same(rows in proptest::collection::vec(("[a-z][a-z0-9-]{0,12}", 0u32..90, proptest::option::of(0.0f64..=1.0), "[A-Za-z ,\"']{0,20}"), 0..20)) {
        let mut drawer = Drawer::new();
        let mut csv = b"part,condition,count,chance,origin\n".to_vec();
        for (part, count, chance, origin) in &rows {
            let chance = chance.map_or(String::new(), |c| c.to_string());
            csv.extend(format!("{part},unseen,{count},{chance},\"{}\"\n", origin.replace('"', "\"\"")).bytes());
        }
        drawer.stock = Drawer::from_csv(&csv).unwrap().stock;
        prop_assert_eq!(drawer.stock.len(), rows.len());
        prop_assert_eq!(&Drawer::from_csv(&drawer.to_csv()).unwrap(), &drawer);
        prop_assert_eq!(&Drawer::from_json(drawer.to_json().as_bytes()).unwrap(), &drawer);
    }
}
