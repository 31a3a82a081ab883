use super::{
    FaultKind, Shoot, ShootClip,
    names::nearest,
    page::Page,
    table::{TableReader, Written},
    value,
};
use crate::delivery::{Deliverable, Limit, LimitFault, Limits, LimitsLayer, Origin};
use std::collections::BTreeSet;
use toml::de::DeValue;

/// The limits that one table of the shoot file sets, and on which lines.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct LimitTable {
    pub(super) layer: LimitsLayer,
    lines: Vec<(Limit, u64)>,
}

/// What a table of limits holds for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scope {
    /// All that is made of a clip.
    Clips,
    /// One deliverable: what the deliverables of a clip share, such as handles, cannot be set.
    OneDeliverable,
}

/// Limits of a clip that its deliverables share.
const SHARED_BY_DELIVERABLES: [Limit; 2] = [Limit::HandleSecs, Limit::LookTolerance];

impl LimitTable {
    /// Reads a table of limits; what is wrong in it is left out.
    pub(super) fn read(table: &TableReader<'_>, scope: Scope) -> Self {
        let mut limits = Self::default();
        for (name, written) in table.entries() {
            if let Err(kind) = limits.set(name, written, scope) {
                let named_in_message = matches!(kind, FaultKind::Limit { .. });
                let field = (!named_in_message).then(|| table.field(name));
                table.page().fault_at(&written.span(), field, kind);
            } else if let Some(limit) = Limit::named(name) {
                limits.lines.push((limit, table.line_of(name)));
            }
        }
        limits
    }

    /// Reads the table of limits of a key that may be left out.
    pub(super) fn within(table: &mut TableReader<'_>, label: &'static str, scope: Scope) -> Self {
        table.inner("limits", label).map(|inner| Self::read(&inner, scope)).unwrap_or_default()
    }

    fn set(&mut self, name: &str, written: &Written<'_>, scope: Scope) -> Result<(), FaultKind> {
        let value = match written.get_ref() {
            DeValue::String(off) if off == "off" => None,
            DeValue::Integer(_) | DeValue::Float(_) => Some(value::number(written.get_ref())?),
            other if Limit::named(name).is_some() => {
                return Err(value::wrong_type("a number, or \"off\"", other));
            }
            // The name is at fault; which value it has makes no difference.
            _ => None,
        };
        let shared = SHARED_BY_DELIVERABLES.into_iter().find(|limit| limit.spec().name == name);
        match (shared, scope) {
            (Some(limit), Scope::OneDeliverable) => Err(FaultKind::NotPerDeliverable { limit }),
            _ => Ok(self.layer.set(name, value).map_err(with_nearest)?),
        }
    }

    fn line_of(&self, limit: Limit) -> Option<u64> {
        self.lines.iter().find(|(set, _)| *set == limit).map(|(_, line)| *line)
    }
}

/// The same fault, with the limit that differs by the fewest letters if one looks like what was written.
fn with_nearest(fault: LimitFault) -> LimitFault {
    match fault {
        LimitFault::Unknown { name, nearest: by_words } => {
            let by_letters = nearest(&name, Limit::TABLE.iter().map(|spec| spec.name));
            LimitFault::Unknown { name, nearest: by_letters.or(by_words) }
        }
        other => other,
    }
}

/// Limits of which the first must not be above the second. A pan limit is in seconds for a width: the hard
/// one is the faster pan, and has fewer of them.
const IN_ORDER: [(Limit, Limit); 7] = [
    (Limit::BandHero, Limit::BandFine),
    (Limit::BandFine, Limit::BandLook),
    (Limit::BandLook, Limit::BandShort),
    (Limit::BandShort, Limit::BandPhone),
    (Limit::PanHard, Limit::PanCaution),
    (Limit::TightShare, Limit::FitsShare),
    (Limit::LeastMove, Limit::GreatestMove),
];

/// Tells every pair of limits that ends up in the wrong order for some clip's some deliverable, once for
/// each line that breaks it.
pub(super) fn tell_out_of_order(page: &Page<'_>, shoot: &Shoot, clips: &[&ShootClip]) {
    let mut told = BTreeSet::new();
    let uses =
        clips.iter().flat_map(|clip| shoot.deliverables_of(clip).map(move |d| (Some(*clip), d)));
    let without_clips = shoot.deliverables.iter().map(|d| (None, d)).filter(|_| clips.is_empty());
    for (clip, deliverable) in uses.chain(without_clips) {
        let clip_name = clip.map(|clip| clip.name.as_str());
        for (line, kind) in
            shoot.layers(clip, Some(deliverable)).out_of_order(clip_name, deliverable)
        {
            if let FaultKind::LimitOrder { lower, upper, .. } = kind
                && told.insert((line, lower, upper))
            {
                page.fault(line, None, kind);
            }
        }
    }
}

/// Tables of limits, each over those before it.
pub(super) struct Layers<'s>(pub(super) Vec<(Origin, &'s LimitTable)>);

impl Layers<'_> {
    pub(super) fn limits(&self) -> Limits {
        let layers: Vec<_> = self.0.iter().map(|(origin, table)| (*origin, &table.layer)).collect();
        Limits::layered(&layers)
    }

    /// Every pair of limits that ends up in the wrong order, with the line that breaks it: that of the later
    /// layer.
    pub(super) fn out_of_order(
        &self,
        clip: Option<&str>,
        deliverable: &Deliverable,
    ) -> Vec<(Option<u64>, FaultKind)> {
        let limits = self.limits();
        let broken = IN_ORDER.into_iter().filter_map(|(lower, upper)| {
            let (lower_value, upper_value) = (limits.value(lower)?, limits.value(upper)?);
            let (lower_origin, upper_origin) = (limits.origin(lower), limits.origin(upper));
            let line =
                self.line_of(if lower_origin > upper_origin { lower } else { upper }, &limits);
            let context = clip
                .filter(|_| lower_origin.max(upper_origin) > Origin::Shoot)
                .map(|clip| format!(" for {clip} as {}", deliverable.name))
                .unwrap_or_default();
            (lower_value > upper_value).then_some((
                line,
                FaultKind::LimitOrder {
                    lower,
                    lower_value,
                    lower_origin,
                    upper,
                    upper_value,
                    upper_origin,
                    context,
                },
            ))
        });
        broken.collect()
    }

    fn line_of(&self, limit: Limit, limits: &Limits) -> Option<u64> {
        let origin = limits.origin(limit);
        self.0.iter().find(|(layer, _)| *layer == origin).and_then(|(_, t)| t.line_of(limit))
    }
}
