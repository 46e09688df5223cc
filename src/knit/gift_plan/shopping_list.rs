use super::GiftPlan;

/// What is to be made possible by buying yarn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ShoppingFor {
    /// All gifts of this priority and above.
    Gifts(u8),
    /// As much as so much money buys.
    Money(f64),
}

/// What a shopping list is to spare.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sparing {
    /// The fewest balls.
    #[default]
    Balls,
    /// The fewest grams.
    Grams,
    /// The least money.
    Money,
}

impl Sparing {
    /// All of them.
    pub const ALL: [Sparing; 3] = [Sparing::Balls, Sparing::Grams, Sparing::Money];
    /// Their names, in that order.
    pub const NAMES: [&'static str; 3] = ["balls", "grams", "money"];

    /// As requests and lists write it.
    pub const fn name(self) -> &'static str {
        match self {
            Sparing::Balls => "balls",
            Sparing::Grams => "grams",
            Sparing::Money => "money",
        }
    }

    /// The one of that name.
    pub fn parse(text: &str) -> Option<Sparing> {
        Sparing::ALL.into_iter().find(|sparing| sparing.name() == text.trim())
    }
}

/// What to buy, and what is then made.
#[derive(Clone, Debug)]
pub struct ShoppingList {
    /// What it is for.
    pub wanted: ShoppingFor,
    /// What it spares.
    pub sparing: Sparing,
    /// Yarn by yarn.
    pub rows: Vec<ToBuy>,
    /// What it costs, in balls, grams or money.
    pub cost: f64,
    /// No list that makes the same gifts costs less. Of money: nothing is said.
    pub least: f64,
    /// Whether it is sure that no list is cheaper or, of money, better.
    pub proven: bool,
    /// Gifts that today's stash alone would not make, by id.
    pub possible: Vec<String>,
    /// Gifts wanted that can't be made even so, by id.
    pub missing: Vec<String>,
    /// The plan with the new balls, which are remnants of it.
    pub plan: GiftPlan,
}

/// Balls of a yarn to buy, all of one dye lot.
#[derive(Clone, Debug, PartialEq)]
pub struct ToBuy {
    /// Id of the yarn.
    pub yarn: String,
    /// Its name.
    pub name: String,
    /// How many.
    pub balls: u32,
    /// Grams of a ball.
    pub ball_g: f64,
    /// Whether nobody said what a ball weighs.
    pub assumed: bool,
    /// What all of them cost, where the price of a ball is known.
    pub price: Option<f64>,
    /// Grams that the plan leaves of them.
    pub left_g: f64,
}

impl ShoppingList {
    /// Balls, grams and price of all together; the price where each is known.
    pub fn total(&self) -> (u32, f64, Option<f64>) {
        let grams = self.rows.iter().map(|row| f64::from(row.balls) * row.ball_g).sum();
        let price: Option<f64> = self.rows.iter().map(|row| row.price).sum();
        (self.rows.iter().map(|row| row.balls).sum(), grams, price)
    }
}
