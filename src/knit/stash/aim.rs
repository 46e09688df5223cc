use super::plan_weights::PlanWeights;

/// What a plan is to be good at, beside making the gifts that must be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Aim {
    /// As many gifts as can be, those that matter more before the others.
    #[default]
    MostGifts,
    /// As many grams of the stash as can be.
    UseUp,
    /// As few balls begun as can be, for the gifts there are.
    FewBalls,
    /// As little time as can be, for the gifts there are.
    LeastTime,
}

impl Aim {
    /// Every aim.
    pub const ALL: [Aim; 4] = [Aim::MostGifts, Aim::UseUp, Aim::FewBalls, Aim::LeastTime];
    /// Their names, in that order.
    pub const NAMES: [&'static str; 4] = ["most gifts", "use up", "few balls", "least time"];

    /// As files write it.
    pub const fn name(self) -> &'static str {
        match self {
            Aim::MostGifts => "most gifts",
            Aim::UseUp => "use up",
            Aim::FewBalls => "few balls",
            Aim::LeastTime => "least time",
        }
    }

    /// The aim of that name.
    pub fn parse(text: &str) -> Option<Aim> {
        Aim::ALL.into_iter().find(|aim| aim.name() == text.trim())
    }

    /// What a gram knitted gains in points, a remnant begun loses, an hour of work loses. A choice
    /// of ours: where yarn is to be used up, a gram is as much as a point of priority, so that grams
    /// lead; a ball and an hour are less than any gift, so that no gift is lost for a few of them.
    pub fn weighed(self, weights: &PlanWeights) -> AimWeights {
        let usual = match self {
            Aim::MostGifts => [0.0, 0.0, 0.0],
            Aim::UseUp => [weights.priority, 0.0, 0.0],
            Aim::FewBalls => [0.0, weights.priority * 0.2, 0.0],
            Aim::LeastTime => [0.0, 0.0, weights.priority * 0.03],
        };
        AimWeights {
            gram: weights.gram.unwrap_or(usual[0]),
            ball: weights.ball.unwrap_or(usual[1]),
            hour: weights.hour.unwrap_or(usual[2]),
        }
    }
}

/// What an aim comes to, in points.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AimWeights {
    /// Gained by each gram knitted.
    pub gram: f64,
    /// Lost by each remnant begun.
    pub ball: f64,
    /// Lost by each hour of work.
    pub hour: f64,
}

#[cfg(test)]
mod tests {
    use super::super::Settings;
    use super::*;

    #[test]
    fn an_aim_is_known_by_its_name() {
        for (aim, name) in Aim::ALL.into_iter().zip(Aim::NAMES) {
            assert_eq!((aim.name(), Aim::parse(name)), (name, Some(aim)));
        }
        assert_eq!(Aim::parse("most"), None);
    }

    #[test]
    fn the_usual_aim_weighs_nothing_and_what_is_said_goes_before() {
        let mut weights = Settings::default().weights;
        assert_eq!(Aim::MostGifts.weighed(&weights), AimWeights::default());
        assert_eq!(Aim::UseUp.weighed(&weights).gram, 1000.0);
        weights.ball = Some(7.0);
        assert_eq!(Aim::FewBalls.weighed(&weights).ball, 7.0);
        assert_eq!(Aim::MostGifts.weighed(&weights).ball, 7.0);
    }
}
