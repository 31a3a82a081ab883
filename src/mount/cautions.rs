/// What is said wherever mounting is talked about, once: the general line first, then the usual cautions of the trade (common
/// practice, no source, but for what local law, a venue and the makers of gear have in writing, which goes before it).
pub const CAUTIONS: [&str; 8] = [
    "Planning figures only. Local law, the venue's rules and the person responsible for safety on location decide; if they differ from this page, they win.",
    "Vehicles and machines: a rated mount and a separate tether; nothing beyond the outline, over lights, plates, mirrors, air intakes or moving parts; check again after the first minute and after each run. Stopped and isolated before anyone reaches in.",
    "Nobody in control of anything starts, aims or looks at a camera under way, and no take is directed at them.",
    "On helmets and bodies a mount can change how protective gear works, and can snag: its maker, the event and the governing body decide. Breakaway where there is water, rope or branches.",
    "Water and cold: entrapment, cold hands, condensation indoors; nothing that can fall from a bridge or a wire without a second tether.",
    "Batteries lose capacity in the cold and may stop without warning: keep spares warm on the body; do not charge below the cell's limit; swollen or wet cells are out of use.",
    "Bystanders, consent, plates, wildlife and permission to be on the land are looked into before the camera is.",
    "Figures of a spec sheet are typical: shoot a test of ten seconds. For more rush in the picture go lower or nearer, or expose for less time: never ask anyone to go faster.",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_defers_first_and_never_asks_for_speed() {
        assert!(CAUTIONS[0].contains("the person responsible for safety on location decide"));
        assert!(CAUTIONS.iter().any(|line| line.contains("never ask anyone to go faster")));
        assert!(
            CAUTIONS.iter().all(|line| !line.contains("drone")),
            "no limits of the air are stated"
        );
    }
}
