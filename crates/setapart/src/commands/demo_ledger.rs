//! The demo's share of the ledger: what became of the invented device, what was bought for it, what it costs, how it travels.

use super::{cost, donors, parcel, verdict};
use crate::failure::Failure;
use crate::files::Outputs;
use ledger::LedgerError;
use ledger::cost::{Rates, reckon};
use ledger::cover::Budget;
use ledger::donors::{LotChances, Market, Question};
use ledger::drawer::Drawer;
use ledger::intake::{DeviceKind, Experience, Intake, judge};
use ledger::parcel::{Carriage, ParcelOptions, pack};
use ledger::table::to_xlsx;
use piece::{Piece, ShopRecords};
use press::chart::{lay_out_bars, lay_out_steps};
use press::to_svg;
use serde_json::json;
use shape::Watch;
use std::path::Path;

const INTAKE: &[u8] = include_bytes!("../../../../tests/data/demo/intake.json");
const LOTS: &[u8] = include_bytes!("../../../../tests/data/demo/lots.json");
const DRAWER: &[u8] = include_bytes!("../../../../tests/data/demo/drawer.csv");

/// The same invented data as the app keeps them: with the piece, and in the drawer.
pub(crate) fn records() -> Result<(ShopRecords, Drawer), Failure> {
    let own = |e: LedgerError| Failure::Demo(e.to_string());
    let drawer = Drawer::from_csv(DRAWER).map_err(own)?;
    let records = ShopRecords {
        intake: Some(json!(Intake::from_json(INTAKE).map_err(own)?)),
        lots: Some(json!(Market::from_json(LOTS).map_err(own)?)),
        rates: Some(json!(Rates::built_in()?)),
        parcel: None,
    };
    Ok((records, drawer))
}

/// Adds the ledger's files, below `ledger/`.
pub(super) fn add(
    piece: &Piece,
    folder: &Path,
    outputs: &mut Outputs,
    watch: &dyn Watch,
) -> Result<(), Failure> {
    let own = |e: LedgerError| Failure::Demo(e.to_string());
    let to = |name: &str| folder.join("ledger").join(name);
    for (name, bytes) in [
        ("intake.json", INTAKE),
        ("lots.json", LOTS),
        ("drawer.csv", DRAWER),
    ] {
        outputs.add(to(name), bytes);
    }
    let intake = Intake::from_json(INTAKE).map_err(own)?;
    let kinds = DeviceKind::built_in()?;
    let kind = kinds
        .iter()
        .find(|k| k.id == intake.kind)
        .ok_or_else(|| Failure::Demo("no such kind of device".into()))?;
    let judged = judge(&intake, kind, &Experience::none(kind), None).map_err(own)?;
    outputs.add(to("verdict.txt"), verdict::told(&judged));

    let market = Market::from_json(LOTS).map_err(own)?;
    let drawer = Drawer::from_csv(DRAWER).map_err(own)?;
    let chances = LotChances::built_in()?;
    let question = Question {
        market: &market,
        needs: market.needs_of(Some(piece))?,
        drawer: &drawer,
        piece: Some(&piece.name),
        chances: &chances,
        budget: Budget::default(),
    };
    let answer = question.answer(watch).map_err(own)?;
    let curve = question.curve(watch).map_err(own)?;
    outputs.add(to("donors.txt"), donors::told(&answer, &curve, Some(piece)));
    outputs.add(
        to("donors.svg"),
        to_svg(&lay_out_steps(&donors::curve_picture(
            &question, &answer, &curve,
        ))?),
    );

    let reckoning = reckon(
        piece,
        &Rates::built_in()?,
        &[("donors".into(), answer.cost)],
    )
    .map_err(own)?;
    outputs.add(
        to("cost.txt"),
        cost::told(&piece.name, &Rates::built_in()?, &reckoning),
    );
    outputs.add(
        to("cost.xlsx"),
        to_xlsx(&format!("Cost of {}", piece.name), &reckoning.tables())?,
    );
    outputs.add(
        to("cost.svg"),
        to_svg(&lay_out_bars(&cost::bars(
            &piece.name,
            &reckoning.finished,
        ))?),
    );

    let options = ParcelOptions {
        cells: Vec::new(),
        mass_g: None,
    };
    let packed = pack(piece, &Carriage::built_in()?, &options).map_err(own)?;
    outputs.add(to("parcel.txt"), parcel::told(&piece.name, &packed));
    Ok(())
}
