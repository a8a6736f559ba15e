//! What to buy: against every choice there is, with chances counted outcome by outcome.

#![allow(
    clippy::unwrap_used,
    clippy::type_complexity,
    reason = "helpers of tests may panic too; cases are tuples"
)]

use ledger::cover::Budget;
use ledger::donors::{Answer, Lot, LotChances, LotPart, Market, Need, Question, Sibling};
use ledger::drawer::{Condition, Drawer, Stock};
use ledger::{Chance, LedgerError, Minor};
use piece::PartId;
use proptest::prelude::*;
use shape::Silent;
use std::collections::BTreeMap;

fn id(text: &str) -> PartId {
    PartId::try_new(text).unwrap()
}

fn chance(value: f64) -> Chance {
    Chance::try_new(value).unwrap()
}

fn lot(name: &str, price: i64, dead: f64, parts: &[(&str, f64, u32)]) -> Lot {
    let parts: BTreeMap<PartId, LotPart> = parts
        .iter()
        .map(|&(p, c, n)| {
            (
                id(p),
                LotPart {
                    chance: Some(chance(c)),
                    count: Some(n),
                },
            )
        })
        .collect();
    Lot {
        id: name.into(),
        title: None,
        model: None,
        price_minor: Minor::try_new(price).unwrap(),
        shipping_minor: Minor::ZERO,
        more_shipping_minor: None,
        available: 1,
        condition: None,
        dead: Some(chance(dead)),
        parts: Some(parts),
        lacks: Default::default(),
    }
}

fn market(confidence: f64, needs: Vec<Need>, lots: Vec<Lot>) -> Market {
    let mut market = Market::from_json(
        br#"{"format": "setapart-lots", "version": 1, "currency": "EUR", "lots": []}"#,
    )
    .unwrap();
    market.confidence = chance(confidence);
    market.needs = needs;
    market.lots = lots;
    market
}

fn ask(market: &Market, drawer: &Drawer) -> Result<Answer, LedgerError> {
    let chances = LotChances::built_in()?;
    Question {
        market,
        needs: market.needs_of(None)?,
        drawer,
        piece: None,
        chances: &chances,
        budget: Budget::default(),
    }
    .answer(&Silent)
}

/// FACTS 11: 1 - 0.3^2 = 0.91 is not enough for 0.95, 1 - 0.3^3 = 0.973 is.
#[test]
fn at_a_chance_of_0_7_and_a_risk_of_0_05_three_donors_are_bought() {
    let mut one = lot("whole", 2000, 0.0, &[("display", 0.7, 1)]);
    one.available = 10;
    let answer = ask(
        &market(0.95, vec![Need::new(id("display"))], vec![one]),
        &Drawer::new(),
    )
    .unwrap();
    assert_eq!(
        (
            answer.selection.buy.len(),
            answer.selection.buy[0].count,
            answer.cost
        ),
        (1, 3, 6000)
    );
    assert!(answer.proved);
    assert!((answer.selection.confidence.get() - 0.973).abs() < 1e-12);
}

/// By hand: two copies of a lot that is dead with 0.2 fail together: 1 - (0.2 + 0.8 * 0.5^2) = 0.6.
#[test]
fn parts_of_one_lot_fail_together() {
    let one = lot("box", 500, 0.2, &[("screw", 0.5, 2)]);
    let answer = ask(
        &market(0.6, vec![Need::new(id("screw"))], vec![one]),
        &Drawer::new(),
    )
    .unwrap();
    assert!((answer.selection.confidence.get() - 0.6).abs() < 1e-12);
}

/// By hand: each part 0.9 * 0.5 = 0.45; both at once 0.9 * 0.25 = 0.225, not 0.45^2 = 0.2025.
#[test]
fn the_whole_pieces_confidence_knows_that_a_lots_parts_hang_together() {
    let one = lot("dead or alive", 500, 0.1, &[("a", 0.5, 1), ("b", 0.5, 1)]);
    let needs = vec![Need::new(id("a")), Need::new(id("b"))];
    let answer = ask(&market(0.4, needs, vec![one]), &Drawer::new()).unwrap();
    assert!((answer.selection.confidence.get() - 0.225).abs() < 1e-12);
}

/// By hand: whether the sibling's part fits is one fact: no number of them gets beyond 0.8.
#[test]
fn two_lots_of_a_sibling_share_whether_the_part_fits() {
    let mut lots = vec![
        lot("s", 100, 0.0, &[("a", 0.9, 1)]),
        lot("own", 5000, 0.0, &[("a", 0.95, 1)]),
    ];
    lots[0].model = Some("Mark 2".into());
    lots[0].available = 9;
    let mut m = market(0.9, vec![Need::new(id("a"))], lots);
    m.siblings = vec![Sibling {
        model: "Mark 2".into(),
        part: id("a"),
        chance: Some(chance(0.8)),
        fit: None,
    }];
    let answer = ask(&m, &Drawer::new()).unwrap();
    assert_eq!(answer.selection.buy[0].lot, "own");
    m.confidence = chance(0.79);
    let answer = ask(&m, &Drawer::new()).unwrap();
    // 0.8 * (1 - 0.1^k) >= 0.79 first at k = 2: 0.792.
    assert_eq!(
        (
            answer.selection.buy[0].lot.as_str(),
            answer.selection.buy[0].count
        ),
        ("s", 2)
    );
    assert!((answer.selection.confidence.get() - 0.792).abs() < 1e-12);
}

#[test]
fn carriage_of_further_ones_in_a_parcel_counts_as_told() {
    let mut one = lot("whole", 1000, 0.0, &[("a", 0.5, 1)]);
    one.available = 5;
    one.shipping_minor = Minor::try_new(700).unwrap();
    one.more_shipping_minor = Some(Minor::try_new(150).unwrap());
    let answer = ask(
        &market(0.85, vec![Need::new(id("a"))], vec![one]),
        &Drawer::new(),
    )
    .unwrap();
    // Three: 1 - 0.5^3 = 0.875. 3 * 1000 + 700 + 2 * 150.
    assert_eq!(answer.cost, 4000);
}

#[test]
fn a_stand_in_is_made_where_it_is_cheaper_and_the_runner_up_does_without() {
    let mut need = Need::new(id("a"));
    need.stand_in_minor = Some(Minor::try_new(300).unwrap());
    let m = market(0.9, vec![need], vec![lot("x", 900, 0.0, &[("a", 0.95, 1)])]);
    let answer = ask(&m, &Drawer::new()).unwrap();
    assert_eq!((answer.cost, answer.selection.stand_ins.len()), (300, 1));
    assert_eq!(answer.selection.parts[0].confidence, None);
    let second = answer.runner_up.unwrap();
    assert_eq!((second.cost_minor, second.buy[0].lot.as_str()), (900, "x"));
}

#[test]
fn what_the_drawer_keeps_for_another_piece_is_not_taken() {
    let stock = |reserved: Option<&str>| {
        let mut drawer = Drawer::new();
        drawer.stock.push(Stock {
            part: id("a"),
            model: None,
            name: None,
            kind: None,
            count: 1,
            condition: Condition::Whole,
            chance: None,
            origin: None,
            reserved_for: reserved.map(str::to_owned),
            place: None,
        });
        drawer
    };
    let m = market(
        0.9,
        vec![Need::new(id("a"))],
        vec![lot("x", 900, 0.0, &[("a", 0.95, 1)])],
    );
    assert_eq!(ask(&m, &stock(None)).unwrap().cost, 0);
    assert_eq!(ask(&m, &stock(Some("another"))).unwrap().cost, 900);
}

#[test]
fn what_cannot_be_had_is_told_by_name_with_the_best_reachable() {
    let needs = vec![Need::new(id("a")), Need::new(id("b"))];
    let m = market(0.9, needs, vec![lot("x", 900, 0.0, &[("a", 0.8, 1)])]);
    let Err(LedgerError::NoLot { parts }) = ask(&m, &Drawer::new()) else {
        panic!("b is nowhere")
    };
    assert_eq!(parts, ["b"]);
    let m = market(
        0.9,
        vec![Need::new(id("a"))],
        vec![lot("x", 900, 0.0, &[("a", 0.8, 1)])],
    );
    let said = ask(&m, &Drawer::new()).unwrap_err().to_string();
    assert!(said.contains("90.0 %") && said.contains("80.0 %"), "{said}");
}

/// A small market, in numbers that the test can count through.
#[derive(Debug, Clone)]
struct Small {
    confidence: f64,
    quantities: Vec<u32>,
    stand_ins: Vec<Option<i64>>,
    fits: Vec<f64>,
    /// price, available, dead, sibling, and for each need: chance and copies.
    lots: Vec<(i64, u32, f64, bool, Vec<Option<(f64, u32)>>)>,
}

fn small() -> impl Strategy<Value = Small> {
    let share = prop_oneof![
        Just(0.3),
        Just(0.5),
        Just(0.7),
        Just(0.85),
        Just(0.95),
        Just(1.0)
    ];
    (1usize..=2).prop_flat_map(move |needs| {
        let one = (
            1i64..40,
            1u32..=2,
            prop_oneof![Just(0.0), Just(0.1), Just(0.3)],
            any::<bool>(),
            proptest::collection::vec(
                proptest::option::weighted(0.7, (share.clone(), 1u32..=2)),
                needs,
            ),
        );
        (
            prop_oneof![Just(0.5), Just(0.7), Just(0.8), Just(0.9), Just(0.95)],
            proptest::collection::vec(1u32..=2, needs),
            proptest::collection::vec(proptest::option::weighted(0.3, 5i64..60), needs),
            proptest::collection::vec(prop_oneof![Just(0.6), Just(0.9), Just(1.0)], needs),
            proptest::collection::vec(one, 1..=4),
        )
            .prop_map(|(confidence, quantities, stand_ins, fits, lots)| Small {
                confidence,
                quantities,
                stand_ins,
                fits,
                lots,
            })
    })
}

impl Small {
    fn market(&self) -> Market {
        let name = |i: usize| format!("p{i}");
        let needs = (0..self.quantities.len())
            .map(|i| Need {
                quantity: self.quantities[i],
                stand_in_minor: self.stand_ins[i].map(|m| Minor::try_new(m).unwrap()),
                ..Need::new(id(&name(i)))
            })
            .collect();
        let lots =
            self.lots
                .iter()
                .enumerate()
                .map(|(k, (price, available, dead, sibling, has))| {
                    let parts: Vec<(String, f64, u32)> = has
                        .iter()
                        .enumerate()
                        .filter_map(|(i, h)| h.map(|(c, n)| (name(i), c, n)))
                        .collect();
                    let parts: Vec<(&str, f64, u32)> =
                        parts.iter().map(|(s, c, n)| (s.as_str(), *c, *n)).collect();
                    let mut one = lot(&format!("l{k}"), *price, *dead, &parts);
                    one.available = *available;
                    one.model = sibling.then(|| "sibling".into());
                    one
                });
        let mut m = market(self.confidence, needs, lots.collect());
        m.siblings = (0..self.fits.len())
            .map(|i| Sibling {
                model: "sibling".into(),
                part: id(&name(i)),
                chance: Some(chance(self.fits[i])),
                fit: None,
            })
            .collect();
        m
    }

    /// Outcome by outcome: every pattern of dead units and of fits, every number of good copies.
    /// Gives the chance of each need and of all together.
    fn chances(&self, bought: &[u32], open: &[usize]) -> (Vec<f64>, f64) {
        let units: Vec<usize> = bought
            .iter()
            .enumerate()
            .flat_map(|(k, &n)| vec![k; n as usize])
            .collect();
        let needs = self.quantities.len();
        let (mut each, mut all) = (vec![0.0; needs], 0.0);
        for dead in 0..1u32 << units.len() {
            let is_dead = |u: usize| dead >> u & 1 == 1;
            let mut weight = 1.0;
            for (u, &k) in units.iter().enumerate() {
                weight *= if is_dead(u) {
                    self.lots[k].2
                } else {
                    1.0 - self.lots[k].2
                };
            }
            for fit in 0..1u32 << needs {
                let fits = |i: usize| fit >> i & 1 == 1;
                let mut w = weight;
                for i in 0..needs {
                    w *= if fits(i) {
                        self.fits[i]
                    } else {
                        1.0 - self.fits[i]
                    };
                }
                if w == 0.0 {
                    continue;
                }
                let enough: Vec<f64> = (0..needs)
                    .map(|i| {
                        let mut copies = Vec::new();
                        for (u, &k) in units.iter().enumerate() {
                            let (_, _, _, sibling, has) = &self.lots[k];
                            if let Some((p, n)) = has[i]
                                && !is_dead(u)
                                && (!sibling || fits(i))
                            {
                                copies.extend(vec![p; n as usize]);
                            }
                        }
                        (0..1u32 << copies.len())
                            .filter(|good| good.count_ones() >= self.quantities[i])
                            .map(|good| {
                                let of = |(c, p): (usize, &f64)| {
                                    if good >> c & 1 == 1 { *p } else { 1.0 - p }
                                };
                                copies.iter().enumerate().map(of).product::<f64>()
                            })
                            .sum()
                    })
                    .collect();
                for i in 0..needs {
                    each[i] += w * enough[i];
                }
                all += w * open.iter().map(|&i| enough[i]).product::<f64>();
            }
        }
        (each, all)
    }

    /// The least cost over all choices; `None` where none does.
    fn cheapest(&self) -> Option<i64> {
        self.cheapest_lacking(None)
    }

    /// The least cost over all choices, or over those that buy fewer of some lot than is bought here, or have the part
    /// itself where a stand-in is here.
    fn cheapest_lacking(&self, here: Option<(&[u32], &[bool])>) -> Option<i64> {
        let mut best: Option<i64> = None;
        let needs = self.quantities.len();
        let mut bought = vec![0u32; self.lots.len()];
        loop {
            let (each, _) = self.chances(&bought, &[]);
            let lots: i64 = self
                .lots
                .iter()
                .zip(&bought)
                .map(|(l, &n)| l.0 * i64::from(n))
                .sum();
            let stands_in = |i: usize| each[i] < self.confidence - 1e-9;
            let stand_ins: Option<i64> = (0..needs)
                .map(|i| {
                    if stands_in(i) {
                        self.stand_ins[i]
                    } else {
                        Some(0)
                    }
                })
                .sum();
            let other = here.is_none_or(|(lots, stood_in)| {
                bought.iter().zip(lots).any(|(b, h)| b < h)
                    || (0..needs).any(|i| stood_in[i] && !stands_in(i))
            });
            let stand_ins = stand_ins.filter(|_| other);
            if let Some(s) = stand_ins {
                best = Some(best.map_or(lots + s, |b| b.min(lots + s)));
            }
            let Some(k) = (0..bought.len()).find(|&k| bought[k] < self.lots[k].1) else {
                return best;
            };
            bought[k] += 1;
            bought[..k].fill(0);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    /// Truth: all choices tried, all outcomes counted.
    #[test]
    fn no_choice_is_cheaper_and_its_chances_are_those_counted_outcome_by_outcome(small in small()) {
        let answer = ask(&small.market(), &Drawer::new());
        match small.cheapest() {
            None => prop_assert!(answer.is_err()),
            Some(cost) => {
                let answer = answer.unwrap();
                prop_assert!(answer.proved);
                prop_assert_eq!(answer.cost, cost);
                let chosen = &answer.selection;
                let bought: Vec<u32> = (0..small.lots.len())
                    .map(|k| chosen.buy.iter().find(|b| b.lot == format!("l{k}")).map_or(0, |b| b.count))
                    .collect();
                let open: Vec<usize> =
                    (0..chosen.parts.len()).filter(|&i| chosen.parts[i].confidence.is_some()).collect();
                let (each, all) = small.chances(&bought, &open);
                for &i in &open {
                    prop_assert!((chosen.parts[i].confidence.unwrap().get() - each[i]).abs() < 1e-9);
                    prop_assert!(each[i] >= small.confidence - 1e-8);
                }
                prop_assert!((chosen.confidence.get() - all).abs() < 1e-9, "{} {}", chosen.confidence.get(), all);
                let stood_in: Vec<bool> =
                    (0..chosen.parts.len()).map(|i| chosen.parts[i].confidence.is_none()).collect();
                let second = small.cheapest_lacking(Some((&bought, &stood_in)));
                prop_assert_eq!(answer.runner_up.as_ref().map(|s| s.cost_minor), second);
                if let Some(second) = &answer.runner_up {
                    prop_assert!(answer.runner_up_proved);
                    prop_assert!(second.cost_minor >= cost);
                    prop_assert!(second.buy != chosen.buy || second.stand_ins != chosen.stand_ins);
                }
            }
        }
    }
}
