//! What loads do to a joint, and what it may bear.
//!
//! Test values of lap shear (ISO 4587, ASTM D1002) are no design stresses (ASTM D4896, 4.3). They are divided by the
//! product of the partial factors, at least 4. A tape goes by area for its mass.

use crate::catalogue::{Adhesive, Rules};
use crate::group::Group;
use piece::{LoadCaseKind, LoadResult};
use shape::{Point, Vector};

/// What hangs on a joint.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Load {
    /// Mass, g.
    pub(crate) mass_g: f64,
    /// Where its centre lies over the joint.
    pub(crate) centre: Point,
    /// How far its centre stands off the joint, mm.
    pub(crate) off_mm: f64,
    /// Down on the wall.
    pub(crate) down: Vector,
    /// Shock in carriage, times gravity.
    pub(crate) shock_g: f64,
}

/// Factor for loads that last for years.
pub(crate) fn sustained_factor(r: &Rules) -> f64 {
    (short_product(r) * r.factor_long_term.value).max(r.factor_least.value)
}

/// Factor for loads of seconds.
pub(crate) fn short_factor(r: &Rules) -> f64 {
    short_product(r).max(r.factor_least.value)
}

fn short_product(r: &Rules) -> f64 {
    r.factor_property.value * r.factor_thickness.value * r.factor_environment.value
}

/// Shear that an adhesive may bear, MPa: for years and for seconds.
pub(crate) fn allowed_shear_mpa(a: &Adhesive, r: &Rules) -> [f64; 2] {
    let newton_per_g = r.gravity_m_s2.value / 1000.0;
    if let Some(long) = &a.tape_mm2_per_g {
        let short = a
            .tape_short_mm2_per_g
            .as_ref()
            .map_or(long.value, |s| s.value);
        return [newton_per_g / long.value, newton_per_g / short];
    }
    let test = a.lap_shear_mpa.value;
    let long = test / sustained_factor(r);
    let capped = a
        .sustained_cap_mpa
        .as_ref()
        .map_or(long, |c| long.min(c.value));
    [capped, test / short_factor(r)]
}

/// All loads on a joint, worst first. `facing_mpa` is what the board's facing bears in a test, where the joint is on
/// the board.
pub(crate) fn judge(
    group: &Group,
    load: &Load,
    adhesive: &Adhesive,
    facing_mpa: Option<f64>,
    rules: &Rules,
) -> Vec<LoadResult> {
    let weight = load.mass_g / 1000.0 * rules.gravity_m_s2.value;
    let shock = weight * load.shock_g;
    let [shear_long, shear_short] = allowed_shear_mpa(adhesive, rules);
    let tension = adhesive.tension_share.value;
    // A weight that stands off turns the joint's upper edge away from the board.
    let couple = |force: f64| load.down * (-force * load.off_mm);
    let shear = |force: f64| group.greatest_shear_mpa(load.down * force, load.centre);
    let peel = group.greatest_pull_mpa(0.0, load.centre, couple(weight));
    let shock_pull = group.greatest_pull_mpa(shock, load.centre, Vector::default());
    let mut loads = vec![
        result(LoadCaseKind::Shear, shear(weight), shear_long),
        result(LoadCaseKind::Peel, peel, shear_long * tension),
        result(LoadCaseKind::ShockShear, shear(shock), shear_short),
        result(LoadCaseKind::ShockPull, shock_pull, shear_short * tension),
    ];
    if let Some(rule) = &adhesive.tape_mm2_per_g {
        let needed = load.mass_g * rule.value;
        loads.push(result(LoadCaseKind::TapeArea, needed, group.area_mm2()));
    }
    if let Some(facing) = facing_mpa {
        let long = peel.max(shear(weight));
        let short = shock_pull.max(shear(shock));
        loads.push(result(
            LoadCaseKind::Facing,
            long,
            facing / sustained_factor(rules),
        ));
        loads.push(result(
            LoadCaseKind::ShockFacing,
            short,
            facing / short_factor(rules),
        ));
    }
    loads.sort_by(|a, b| {
        b.utilisation
            .total_cmp(&a.utilisation)
            .then(a.load.cmp(&b.load))
    });
    loads
}

/// A load beyond all measure keeps a number that a document can hold.
const BEYOND: f64 = 1e6;

fn result(load: LoadCaseKind, acts: f64, allowed: f64) -> LoadResult {
    LoadResult {
        load,
        acts: acts.min(BEYOND),
        allowed,
        utilisation: (acts / allowed.max(1e-12)).min(BEYOND),
    }
}
