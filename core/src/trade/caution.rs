/// A caution to show where the work calls for it.
///
/// Source: common practice, as the trade's own handbooks and product labels
/// give it. Local codes, makers' instructions and licensed practice come
/// before anything that the program says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Caution {
    /// Lifting and moving the action.
    HeavyAction,
    /// Solvents and spray lubricants.
    Solvents,
    /// Felt, leather and old finishes; old key leads.
    Dust,
    /// Old key leads.
    Lead,
    /// Needles and blades.
    Blades,
    /// Strings and plate.
    Tension,
    /// Mains-powered parts.
    Mains,
    /// Old ivory.
    Ivory,
}

impl Caution {
    /// Every caution, in the order they are listed.
    pub const ALL: [Caution; 8] = [
        Caution::HeavyAction,
        Caution::Solvents,
        Caution::Dust,
        Caution::Lead,
        Caution::Blades,
        Caution::Tension,
        Caution::Mains,
        Caution::Ivory,
    ];

    /// What stands before every caution.
    pub const FIRST: &'static str = "Local codes, makers’ instructions and licensed practice come before anything this program says.";

    /// The caution in words.
    pub const fn text(self) -> &'static str {
        match self {
            Caution::HeavyAction => {
                "The action is heavy and awkward. Clear the keys and hammers of the case, lift with help, and keep hands off the keys on the way out: a raised hammer breaks."
            }
            Caution::Solvents => {
                "Solvents and spray lubricants: outdoors or well ventilated, away from flame, with gloves. Read the product’s safety data sheet."
            }
            Caution::Dust => {
                "Dust from felt, leather and old finishes: wear a mask and eye protection."
            }
            Caution::Lead => "Old key leads are lead: no sanding, and wash hands.",
            Caution::Blades => "Needles and blades: work away from the other hand.",
            Caution::Tension => {
                "Strings and plate are under tons of tension: wear eye protection. Plate screws and cracked plates are for a specialist."
            }
            Caution::Mains => {
                "Mains-powered parts in the piano: unplug first. Repairs are for a licensed electrician."
            }
            Caution::Ivory => {
                "Old ivory: cleaning only. Selling, replacing or moving it may be against the law where you are."
            }
        }
    }
}
