//! Laws of the history and of merging, on random edits: a model in memory says what has to come.

#![allow(clippy::unwrap_used, reason = "helpers of tests may panic too")]

mod common;

use common::{folder, id, part, piece};
use piece::Piece;
use proptest::prelude::*;
use std::collections::BTreeMap;
use workshop::{Edit, Merge, Prefer, RevisionId, Saved, Workshop, merge, merge_preferring};

/// What somebody does to a piece.
#[derive(Debug, Clone, Copy)]
enum Change {
    Move(usize, i32),
    Rename(usize, u8),
    Thicken(usize, u8),
    TakeAway(usize),
    Add(u8),
    Swap(usize, usize),
    Deepen(u8),
    Title(u8),
}

fn change() -> impl Strategy<Value = Change> {
    prop_oneof![
        4 => (0..6usize, -20..20).prop_map(|(n, d)| Change::Move(n, d)),
        2 => (0..6usize, any::<u8>()).prop_map(|(n, k)| Change::Rename(n, k)),
        1 => (0..6usize, any::<u8>()).prop_map(|(n, k)| Change::Thicken(n, k)),
        1 => (0..6usize).prop_map(Change::TakeAway),
        1 => (10..30u8).prop_map(Change::Add),
        1 => (0..6usize, 0..6usize).prop_map(|(a, b)| Change::Swap(a, b)),
        1 => any::<u8>().prop_map(Change::Deepen),
        1 => any::<u8>().prop_map(Change::Title),
    ]
}

fn changed(piece: &Piece, change: Change) -> Piece {
    let mut out = piece.clone();
    let parts = out.parts.len();
    match change {
        Change::Move(n, d) if !out.placements.is_empty() => {
            let n = n % out.placements.len();
            out.placements[n].x += f64::from(d) / 3.0;
        }
        Change::Rename(n, k) if parts > 0 => out.parts[n % parts].name = format!("Name {k}"),
        Change::Thicken(n, k) if parts > 0 => {
            out.parts[n % parts].thickness_mm = Some(f64::from(k) / 10.0)
        }
        Change::TakeAway(n) if parts > 0 => {
            let gone = out.parts.remove(n % parts).id;
            out.placements.retain(|p| p.part != gone);
        }
        Change::Add(k) if out.part(&id(k.into())).is_none() => out.parts.push(part(k.into(), 12)),
        Change::Swap(a, b) if parts > 0 => out.parts.swap(a % parts, b % parts),
        Change::Deepen(k) => out.frame.rebate_depth_mm = Some(f64::from(k)),
        Change::Title(k) => out.name = format!("Title {k}"),
        _ => {}
    }
    out
}

fn all(piece: &Piece, changes: &[Change]) -> Piece {
    changes.iter().fold(piece.clone(), |p, c| changed(&p, *c))
}

/// What somebody does with a piece that is open.
#[derive(Debug, Clone, Copy)]
enum Step {
    Edit(Change),
    /// An edit of a gesture that goes on until another step.
    Drag(Change),
    Undo,
    Redo,
    Reopen,
    GoTo(usize),
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        5 => change().prop_map(Step::Edit),
        3 => change().prop_map(Step::Drag),
        4 => Just(Step::Undo),
        3 => Just(Step::Redo),
        1 => Just(Step::Reopen),
        1 => any::<usize>().prop_map(Step::GoTo),
    ]
}

/// The history as its description says it, without texts, changes or a database.
struct Model {
    nodes: BTreeMap<RevisionId, Node>,
    head: RevisionId,
}

struct Node {
    piece: Piece,
    parent: Option<RevisionId>,
    next: Option<RevisionId>,
    gesture: Option<u32>,
}

impl Model {
    fn add(&mut self, revision: RevisionId, piece: Piece, gesture: Option<u32>) {
        if revision == self.head {
            return;
        }
        self.nodes.get_mut(&self.head).unwrap().next = Some(revision);
        let parent = Some(self.head);
        self.nodes.insert(
            revision,
            Node {
                piece,
                parent,
                next: None,
                gesture,
            },
        );
        self.head = revision;
    }

    fn undo(&mut self) {
        let gesture = self.nodes[&self.head].gesture;
        while let Some(parent) = self.nodes[&self.head].parent {
            self.nodes.get_mut(&parent).unwrap().next = Some(self.head);
            self.head = parent;
            if gesture.is_none() || self.nodes[&parent].gesture != gesture {
                return;
            }
        }
    }

    fn redo(&mut self) {
        let Some(next) = self.nodes[&self.head].next else {
            return;
        };
        self.head = next;
        let gesture = self.nodes[&next].gesture;
        while let Some(next) = self.nodes[&self.head].next {
            if gesture.is_none() || self.nodes[&next].gesture != gesture {
                return;
            }
            self.head = next;
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: ProptestConfig::default().cases.min(2_000) / 8, ..ProptestConfig::default() })]

    #[test]
    fn the_history_is_what_the_model_says(steps in proptest::collection::vec(step(), 1..40)) {
        let at = folder("history-law");
        let mut store = Workshop::open_or_create(&at).unwrap();
        let opened = store.new_piece(&piece(5, 12)).unwrap();
        let first = Node { piece: opened.piece.clone(), parent: None, next: None, gesture: None };
        let mut model = Model { nodes: BTreeMap::from([(opened.state.revision, first)]), head: opened.state.revision };
        let mut gesture = 0;
        for step in steps {
            if !matches!(step, Step::Drag(_)) {
                gesture += 1;
            }
            let now = store.piece(opened.id).unwrap();
            match step {
                Step::Edit(c) | Step::Drag(c) => {
                    let wanted = changed(&now.piece, c);
                    let drag = matches!(step, Step::Drag(_));
                    let mut edit = Edit::new("x");
                    if drag {
                        edit = edit.of_gesture(gesture.to_string());
                    }
                    let Saved::Saved(state) = store.save(opened.id, now.state.revision, &wanted, &edit).unwrap() else {
                        panic!("stale");
                    };
                    model.add(state.revision, wanted, drag.then_some(gesture));
                }
                Step::Undo => {
                    store.undo(opened.id, now.state.revision).unwrap();
                    model.undo();
                }
                Step::Redo => {
                    store.redo(opened.id, now.state.revision).unwrap();
                    model.redo();
                }
                Step::Reopen => {
                    drop(store);
                    store = Workshop::open(&at).unwrap();
                }
                Step::GoTo(n) => {
                    let revision = *model.nodes.keys().nth(n % model.nodes.len()).unwrap();
                    store.go_to(opened.id, revision).unwrap();
                    model.head = revision;
                }
            }
            let now = store.piece(opened.id).unwrap();
            prop_assert_eq!(now.state.revision, model.head);
            let node = &model.nodes[&model.head];
            prop_assert_eq!(&now.piece, &node.piece);
            prop_assert_eq!(now.state.undo.is_some(), node.parent.is_some());
            prop_assert_eq!(now.state.redo.is_some(), node.next.is_some());
        }
        for (revision, node) in &model.nodes {
            prop_assert_eq!(&store.piece_at(opened.id, *revision).unwrap(), &node.piece);
        }
    }

    #[test]
    fn a_side_that_did_nothing_changes_nothing(changes in proptest::collection::vec(change(), 0..8)) {
        let base = piece(5, 12);
        let edited = all(&base, &changes);
        let clean = Merge::Clean(Box::new(edited.clone()));
        prop_assert_eq!(merge(&base, &edited, &base), clean.clone());
        prop_assert_eq!(merge(&base, &base, &edited), clean.clone());
        prop_assert_eq!(merge(&base, &edited, &edited), clean);
    }

    #[test]
    fn what_is_put_together_has_what_only_one_side_did(
        yours in proptest::collection::vec(change(), 0..4), theirs in proptest::collection::vec(change(), 0..4),
    ) {
        let base = piece(5, 12);
        let (y, t) = (all(&base, &yours), all(&base, &theirs));
        match merge(&base, &y, &t) {
            Merge::Clean(both) => {
                both.check_sound().unwrap();
                // The two sides are alike: who comes first matters to the order of what both added only.
                if let Merge::Clean(other) = merge(&base, &t, &y) {
                    for p in &both.parts {
                        prop_assert_eq!(Some(p), other.part(&p.id));
                    }
                    prop_assert_eq!(both.parts.len(), other.parts.len());
                } else {
                    prop_assert!(false, "it depends on who comes first");
                }
                let one_sided = |b: &Option<String>, y: &Option<String>, t: &Option<String>| if y == b { t.clone() } else { y.clone() };
                for n in 1..40 {
                    let at = |p: &Piece| p.placement(&id(n)).map(|p| format!("{p:?}"));
                    prop_assert_eq!(at(&both), one_sided(&at(&base), &at(&y), &at(&t)));
                    let named = |p: &Piece| p.part(&id(n)).map(|p| p.name.clone());
                    if named(&both).is_some() {
                        prop_assert_eq!(named(&both), one_sided(&named(&base), &named(&y), &named(&t)));
                    }
                }
                prop_assert_eq!(Some(both.name), one_sided(&Some(base.name), &Some(y.name), &Some(t.name)));
            }
            Merge::Conflicts(conflicts) => {
                prop_assert!(!conflicts.is_empty());
                for prefer in [Prefer::Yours, Prefer::Theirs] {
                    if let Some(one) = merge_preferring(&base, &y, &t, prefer) {
                        one.check_sound().unwrap();
                    }
                }
            }
        }
    }
}
