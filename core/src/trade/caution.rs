//! The cautions that are shown with steps.

/// A hazard of the work; a step that has it shows its text.
///
/// **Source**: common practice, as handbooks and product labels say it. Local codes, makers'
/// instructions and licensed practice come before anything that the program says
/// ([`Caution::FIRST`]).
///
/// ```
/// use evenhand_core::trade::{Caution, Instrument};
///
/// let steps = Instrument::Grand.steps();
/// let tuning = steps.iter().find(|step| step.id.as_str() == "tuning").unwrap();
/// assert_eq!(tuning.cautions, [Caution::Tension]);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Caution {
    /// Lifting and moving the action.
    HeavyAction,
    /// Heat for burning in and bending, and PTFE near heat.
    Heat,
    /// Solvents and spray lubricants.
    Solvents,
    /// Dust of felt, leather and old finishes.
    Dust,
    /// Lead of old key leads.
    Lead,
    /// Needles and blades.
    Blades,
    /// Strings and plate under tension.
    Tension,
    /// Mains-powered parts.
    Mains,
    /// Old ivory.
    Ivory,
}

impl Caution {
    /// All cautions, in the order in which they are listed.
    pub const ALL: [Caution; 9] = [
        Caution::HeavyAction,
        Caution::Heat,
        Caution::Solvents,
        Caution::Dust,
        Caution::Lead,
        Caution::Blades,
        Caution::Tension,
        Caution::Mains,
        Caution::Ivory,
    ];

    /// The sentence that is shown before every list of cautions.
    pub const FIRST: &'static str = "Local codes, makers’ instructions and licensed practice come before anything Evenhand says.";

    /// Returns the caution in words.
    pub const fn text(self) -> &'static str {
        match self {
            Caution::HeavyAction => {
                "The action is heavy and awkward. Clear the keys and hammers of the case, lift with help, and keep hands off the keys on the way out: a raised hammer breaks."
            }
            Caution::Heat => {
                "Heat for burning in or bending: no flame near felt, solvent or spray. Work on metal, with water or an extinguisher within reach. PTFE powder and spray must never meet flame or a hot iron: the fumes harm."
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
