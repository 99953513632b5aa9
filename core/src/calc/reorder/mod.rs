//! `reorder`: when to order an item, how many, and how often it runs out.

mod policy;
#[cfg(test)]
mod tests;

use super::{
    answer::{Answer, Calculation, Source, Work},
    distributions::PoissonDemand,
    error::{CalculationError, Reader, finite},
    rounding::rounded,
    schema,
};
use policy::{Costs, LARGEST_QUANTITY, LeadTimeDemand};
use schemars::{JsonSchema, Schema};
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// The calculation.
#[derive(Debug)]
pub struct Reorder;

/// How demand scatters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DemandModel {
    /// Single items drawn by chance.
    Poisson,
    /// Many items, with a standard deviation.
    Normal,
}

/// How point and quantity are found from costs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
#[schemars(rename = "ReorderMethod")]
pub enum Method {
    /// The economic order quantity, and a reorder point for the service at which shortage and holding balance.
    #[default]
    EconomicQuantity,
    /// Point and quantity together, at the least cost; or the point alone, for an order quantity given.
    LeastCost,
}

/// The item.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "ReorderRequest", transform = second_names)]
pub struct Request {
    /// Mean demand in a day.
    #[schemars(transform = schema::positive)]
    pub demand_per_day: f64,
    /// Days from order to delivery.
    #[schemars(transform = schema::positive)]
    pub lead_time_days: f64,
    /// How demand scatters.
    pub model: DemandModel,
    /// Normal demand: standard deviation of one day's demand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 1e9))]
    pub standard_deviation: Option<f64>,
    /// The probability that a lead time passes without running out; or give costs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::likely)]
    pub service: Option<f64>,
    /// Cost of one item on stock for a day.
    #[serde(default, alias = "holding", skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1e-9, max = 1e9))]
    pub holding_cost: Option<f64>,
    /// Cost of one item owed for a day.
    #[serde(default, alias = "shortage", skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1e-9, max = 1e9))]
    pub shortage_cost: Option<f64>,
    /// Cost of one order.
    #[serde(default, alias = "ordering", skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0, max = 1e9))]
    pub ordering_cost: Option<f64>,
    /// How point and quantity are found from costs.
    #[serde(default)]
    pub method: Method,
    /// A reorder point to judge, instead of one to find.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = -1e9, max = 1e9))]
    pub reorder_point: Option<f64>,
    /// Least cost: the quantity that is ordered anyway.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(transform = schema::positive, range(max = 1e9))]
    pub order_quantity: Option<f64>,
}

/// The costs are read under a shorter name too.
fn second_names(schema: &mut Schema) {
    let Some(Value::Object(properties)) = schema.get_mut("properties") else { return };
    for name in ["holding", "shortage", "ordering"] {
        if let Some(Value::Object(mut cost)) = properties.get(&format!("{name}_cost")).cloned() {
            cost.insert("description".to_owned(), format!("The same as `{name}_cost`.").into());
            properties.insert(name.to_owned(), Value::Object(cost));
        }
    }
}

/// When and how many.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "ReorderResult")]
pub struct Policy {
    /// Order when stock and orders under way fall to this.
    pub reorder_point: f64,
    /// Order so many; absent where no cost of an order says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub order_quantity: Option<f64>,
    /// The probability that a lead time's demand exceeds the reorder point.
    pub stock_out_probability: f64,
    /// Mean demand in a lead time.
    pub lead_time_demand: f64,
    /// Reorder point less mean demand in a lead time.
    pub safety_stock: f64,
    /// Expected holding, shortage and ordering cost in a day, where costs were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub expected_cost_per_day: Option<f64>,
}

/// What the point is found by.
enum Aim {
    Service { probability: f64, economic: Option<f64> },
    Cost(Costs),
}

const MOST: f64 = 1e9;

fn read_demand(reader: &mut Reader, request: &Request) -> Option<LeadTimeDemand> {
    let demand = reader.positive("/demand_per_day", request.demand_per_day);
    let days = reader.positive("/lead_time_days", request.lead_time_days);
    let mean = demand * days;
    match (request.model, request.standard_deviation) {
        (DemandModel::Poisson, deviation) => {
            reader.refuse_if(deviation.is_some(), "/standard_deviation", "Poisson demand has its own; leave it out");
            reader.refuse_if(mean > 1e5, "/demand_per_day", "so large a demand is normal, not Poisson");
            PoissonDemand::new(mean).map(|demand| LeadTimeDemand::Poisson { mean, demand })
        }
        (DemandModel::Normal, None) => {
            reader.refuse("/standard_deviation", "normal demand needs the standard deviation of a day's demand");
            None
        }
        (DemandModel::Normal, Some(deviation)) => {
            let deviation = reader.not_negative("/standard_deviation", deviation);
            reader.refuse_if(mean > MOST, "/demand_per_day", "demand in a lead time must be below a thousand million");
            reader.refuse_if(deviation > MOST, "/standard_deviation", "must be below a thousand million");
            Some(LeadTimeDemand::Normal { mean, deviation: deviation * days.sqrt() })
        }
    }
}

fn read_aim(reader: &mut Reader, request: &Request) -> Option<Aim> {
    let cost = |reader: &mut Reader, name: &str, value: Option<f64>, zero: bool| {
        value.map(|value| {
            let read = if zero { reader.not_negative(name, value) } else { reader.positive(name, value) };
            reader.refuse_if(read > MOST || (read > 0.0 && read < 1.0 / MOST), name, "must lie between 1e-9 and 1e9");
            read
        })
    };
    let holding = cost(reader, "/holding_cost", request.holding_cost, false);
    let shortage = cost(reader, "/shortage_cost", request.shortage_cost, false);
    let ordering = cost(reader, "/ordering_cost", request.ordering_cost, true);
    let per_day = |ordering: f64| ordering * request.demand_per_day;
    let least_cost = request.method == Method::LeastCost;
    reader.refuse_if(
        request.order_quantity.is_some() && !least_cost,
        "/order_quantity",
        "a quantity given goes with the method least_cost",
    );
    match (request.service, shortage) {
        (Some(service), None) => {
            reader.refuse_if(least_cost, "/method", "least_cost goes with costs, not with a service");
            let probability = reader.likely("/service", service);
            reader.refuse_if(
                holding.is_some() != ordering.is_some(),
                "/ordering_cost",
                "an order quantity needs both the holding and the ordering cost",
            );
            let economic = holding.zip(ordering).map(|(h, k)| (2.0 * per_day(k) / h).sqrt());
            Some(Aim::Service { probability, economic })
        }
        (None, Some(shortage)) => {
            if holding.is_none() {
                reader.refuse("/holding_cost", "a shortage cost is weighed against a holding cost");
            }
            Some(Aim::Cost(Costs { holding: holding?, shortage, ordering: per_day(ordering.unwrap_or(0.0)) }))
        }
        _ => {
            reader.refuse("/service", "give a service, or the holding, shortage and ordering costs");
            None
        }
    }
}

/// A quantity to order: whole, and at least one, where demand is; none for zero.
fn orderable(demand: &LeadTimeDemand, quantity: f64) -> Option<f64> {
    match demand {
        _ if quantity <= 0.0 => None,
        LeadTimeDemand::Normal { .. } => Some(quantity),
        LeadTimeDemand::Poisson { .. } => Some(quantity.round().max(1.0)),
    }
}

/// `(reorder point, order quantity, cost in a day)`.
fn decide(request: &Request, demand: &LeadTimeDemand, aim: &Aim) -> (f64, Option<f64>, Option<f64>) {
    match aim {
        Aim::Service { probability, economic } => {
            let quantity = economic.and_then(|quantity| orderable(demand, quantity));
            (demand.quantile(*probability), quantity, None)
        }
        Aim::Cost(costs) => {
            let (point, quantity) = match (request.method, request.order_quantity) {
                (Method::EconomicQuantity, _) => (
                    demand.quantile(costs.shortage / (costs.shortage + costs.holding)),
                    orderable(demand, (2.0 * costs.ordering / costs.holding).sqrt()),
                ),
                (Method::LeastCost, Some(quantity)) => (demand.best_point(costs, quantity), Some(quantity)),
                (Method::LeastCost, None) => {
                    let (point, quantity) = demand.best_policy(costs);
                    (point, orderable(demand, quantity))
                }
            };
            (point, quantity, Some(demand.daily_cost(costs, point, quantity.unwrap_or(0.0))))
        }
    }
}

impl Calculation for Reorder {
    const NAME: &'static str = "reorder";
    const VERSION: u32 = 1;
    const ANSWERS: &'static str = "When to order an item, how many, and how often it runs out.";
    const EXAMPLE: &'static str = r#"{"demand_per_day": 0.4, "lead_time_days": 10, "model": "poisson", "holding_cost": 0.02, "shortage_cost": 1.5,
        "ordering_cost": 12, "method": "least_cost"}"#;
    type Request = Request;
    type Result = Policy;

    fn calculate(request: &Request) -> Result<Answer<Request, Policy>, CalculationError> {
        let mut reader = Reader::unitless();
        let demand = read_demand(&mut reader, request);
        let aim = read_aim(&mut reader, request);
        if let Some(quantity) = request.order_quantity {
            let quantity = reader.positive("/order_quantity", quantity);
            reader.refuse_if(
                request.model == DemandModel::Poisson && quantity.fract() != 0.0,
                "/order_quantity",
                "single items are ordered whole",
            );
            let most = if request.model == DemandModel::Poisson { LARGEST_QUANTITY } else { MOST };
            reader.refuse_if(quantity > most, "/order_quantity", format!("must be at most {most}"));
        }
        if let Some(point) = request.reorder_point {
            let point = reader.number("/reorder_point", point);
            reader.refuse_if(point.abs() > MOST, "/reorder_point", "must be below a thousand million");
            reader.refuse_if(
                request.model == DemandModel::Poisson && point.fract() != 0.0,
                "/reorder_point",
                "single items are counted whole",
            );
        }
        if let (Some(Aim::Cost(costs)), DemandModel::Poisson) = (&aim, request.model) {
            reader.refuse_if(
                2.0 * costs.ordering / costs.holding.min(costs.shortage) > (LARGEST_QUANTITY / 4.0).powi(2),
                "/ordering_cost",
                "so costly an order asks for more items than single items are; use the normal model",
            );
        }
        reader.finish()?;
        let (Some(demand), Some(aim)) = (demand, aim) else {
            return Err(CalculationError::field("/demand_per_day", "no demand can be read"));
        };
        let (found, quantity, cost) = decide(request, &demand, &aim);
        let point = request.reorder_point.unwrap_or(found);
        let cost = match &aim {
            Aim::Cost(costs) if request.reorder_point.is_some() => {
                Some(demand.daily_cost(costs, point, quantity.unwrap_or(0.0)))
            }
            _ => cost,
        };
        finite(point, "/demand_per_day", "reorder point")?;
        let short = demand.exceeds(point);
        let cost = cost.map(|cost| finite(cost, "/holding_cost", "cost")).transpose()?;

        let mut work = Work::unitless(None);
        work.number("μ", "mean demand in a lead time", demand.mean());
        if let LeadTimeDemand::Normal { deviation, .. } = demand {
            work.number("σ", "standard deviation of demand in a lead time", deviation);
        }
        if let Aim::Cost(costs) = &aim {
            work.number(
                "p/(p + h)",
                "service at which shortage and holding balance",
                costs.shortage / (costs.shortage + costs.holding),
            );
        }
        let many = quantity.map_or(String::new(), |quantity| format!("{quantity:.1} "));
        let sentence = format!(
            "Order {many}when stock and orders under way fall to {point:.1}; {:.2} % of lead times run out.",
            100.0 * short
        );
        if point < 0.0 {
            work.caution("A reorder point below zero: with these costs it pays to let orders wait.");
        }
        work.caution("A lead time that varies needs more than this: give the longest that is usual, or its scatter in the standard deviation.");
        let policy = Policy {
            reorder_point: rounded(point),
            order_quantity: quantity.map(rounded),
            stock_out_probability: rounded(short),
            lead_time_demand: rounded(demand.mean()),
            safety_stock: rounded(point - demand.mean()),
            expected_cost_per_day: cost.map(rounded),
        };
        Ok(work.answer::<Self>(
            request.clone(),
            policy,
            sentence,
            &[
                Source::recalled("L. V. Snyder and Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed. (2019), 4.3, 5.3"),
                Source::recalled("A. Federgruen and Y.-S. Zheng, An efficient algorithm for computing an optimal (r, Q) policy (1992)"),
            ],
        ))
    }
}
