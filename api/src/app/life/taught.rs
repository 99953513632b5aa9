//! What designs' edges taught. Learning takes a good part of a millisecond a design, and a plan asks it of all; so what was
//! learned is kept in memory, with what it was learned from, and learned anew when that is no longer what is on record.

use crate::problem::Problem;
use dovetally_core::{
    ids::ToolDesignId,
    life::left::{EdgesLeft, Experience, PiecesLeft, TellsWhatIsLeft},
    planning::outlook::EdgeOutlook,
};
use dovetally_db::{Connection, life::edges};
use std::{
    collections::BTreeMap,
    sync::{Arc, Mutex, PoisonError},
};

/// A design, and what is on record of it besides its ended edges.
pub(crate) struct Asked {
    pub(crate) design: ToolDesignId,
    /// The pieces that its record expects of an edge.
    pub(crate) expected: i64,
    /// Pieces on its edges in use, of all its tools that are not retired.
    pub(crate) in_use: Vec<i64>,
}

/// What something was learned from.
#[derive(Debug, PartialEq, Eq)]
struct Seen {
    /// How many edges ended.
    ended: i64,
    expected: i64,
    /// Ascending.
    in_use: Vec<i64>,
}

/// What a design's edges taught.
#[derive(Debug)]
pub(crate) struct Taught {
    seen: Seen,
    pub(crate) experience: Experience,
    pub(crate) outlook: EdgeOutlook,
    on_edges: BTreeMap<i64, i64>,
    /// What was told before of edges.
    told: Mutex<BTreeMap<EdgesLeft, PiecesLeft>>,
}

/// The most answers that are kept of one design: its tools together, those kept for each part, and orders.
const MOST_TOLD: usize = 64;

impl TellsWhatIsLeft for Taught {
    fn pieces_left(&self, edges: &EdgesLeft) -> PiecesLeft {
        let told = || self.told.lock().unwrap_or_else(PoisonError::into_inner);
        let before = told().get(edges).copied();
        before.unwrap_or_else(|| {
            let left = self.experience.pieces_left(edges);
            let mut told = told();
            if told.len() == MOST_TOLD {
                told.clear();
            }
            told.insert(edges.clone(), left);
            left
        })
    }
}

impl Taught {
    /// Pieces that an edge is still counted on for.
    pub(crate) fn on_edge(&self, made: i64) -> i64 {
        self.on_edges.get(&made).copied().unwrap_or_else(|| self.outlook.on_edge(made))
    }
}

/// What was learned last of each design.
static KNOWN: Mutex<BTreeMap<ToolDesignId, Arc<Taught>>> = Mutex::new(BTreeMap::new());

/// What designs' edges taught, as they are on record now.
///
/// # Errors
/// A database error.
pub(crate) fn taught(
    connection: &mut Connection,
    asked: Vec<Asked>,
) -> Result<BTreeMap<ToolDesignId, Arc<Taught>>, Problem> {
    let ids: Vec<ToolDesignId> = asked.iter().map(|asked| asked.design).collect();
    let ended = edges::count_ended(connection, &ids)?;
    let mut all = BTreeMap::new();
    for Asked { design, expected, mut in_use } in asked {
        in_use.sort_unstable();
        let seen = Seen { ended: ended.get(&design).copied().unwrap_or_default(), expected, in_use };
        let known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner).get(&design).cloned();
        let taught = match known.filter(|known| known.seen == seen) {
            Some(known) => known,
            None => {
                let taught = Arc::new(learn(connection, design, seen)?);
                KNOWN.lock().unwrap_or_else(PoisonError::into_inner).insert(design, Arc::clone(&taught));
                taught
            }
        };
        all.insert(design, taught);
    }
    Ok(all)
}

fn learn(connection: &mut Connection, design: ToolDesignId, seen: Seen) -> Result<Taught, Problem> {
    let mut lives = edges::ended(connection, design)?;
    seen.in_use.iter().for_each(|pieces| lives.add_in_use(*pieces));
    let experience = Experience::of(&lives, seen.expected);
    let outlook = EdgeOutlook::of(experience);
    let on_edges = seen.in_use.iter().map(|made| (*made, outlook.on_edge(*made))).collect();
    Ok(Taught { seen, experience, outlook, on_edges, told: Mutex::default() })
}

/// What one design's edges taught.
///
/// # Errors
/// A database error.
pub(crate) fn of_design(
    connection: &mut Connection,
    design: ToolDesignId,
    expected: i64,
) -> Result<Experience, Problem> {
    let in_use = edges::in_use(connection, design)?;
    let taught = taught(connection, vec![Asked { design, expected, in_use }])?;
    taught.get(&design).map(|taught| taught.experience).ok_or_else(|| Problem::not_found("tool design", design))
}
