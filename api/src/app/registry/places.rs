//! Places.

use super::{Registered, no_faults};
use crate::{
    extract::NoFields,
    principal::Principal,
    problem::Problem,
    transport::place::{PlaceBody, PlaceView},
};
use dovetally_core::{
    code::Code,
    ids::PlaceId,
    registry::{Record, place::Place},
};
use dovetally_db::{Connection, Tx, codes::CodeSubject, places};
use uuid::Uuid;

/// Places: bins, shelves, carts, addresses outside.
#[derive(Debug)]
pub struct Places;

impl Registered for Places {
    const RESOURCE: &'static str = "place";
    const COLLECTION: &'static str = "places";
    const SUBJECT: CodeSubject = CodeSubject::Place;
    const CHANGES: [&'static str; 3] =
        ["dovetally.place.created", "dovetally.place.changed", "dovetally.place.removed"];
    const READ_ONLY: &'static [&'static str] = &["id", "created_at", "updated_at"];

    type Thing = Place;
    type New = PlaceBody;
    type Write = PlaceBody;
    type View = PlaceView;
    type Filter = NoFields;

    fn code_of_new(new: &PlaceBody) -> &Code {
        &new.code
    }

    fn code_of(write: &PlaceBody) -> &Code {
        &write.code
    }

    fn record_of(place: &Place) -> (Uuid, &Code, i64) {
        (place.id.uuid(), &place.code, place.version)
    }

    fn find(connection: &mut Connection, id: Uuid) -> Result<Option<Place>, Problem> {
        Ok(places::find(connection, PlaceId::from_uuid(id))?)
    }

    fn page(
        connection: &mut Connection,
        _: &NoFields,
        after: Option<&Code>,
        limit: i64,
    ) -> Result<Vec<Place>, Problem> {
        Ok(places::page(connection, after, limit)?)
    }

    fn view(_: &mut Connection, place: &Place) -> Result<PlaceView, Problem> {
        Ok(place.into())
    }

    fn write_form(place: &Place) -> PlaceBody {
        place.into()
    }

    fn insert(tx: &mut Tx<'_>, _: &Principal, id: Uuid, new: &PlaceBody) -> Result<Place, Problem> {
        let fields = new.fields();
        no_faults(fields.check())?;
        let now = tx.now();
        let place = Record {
            id: PlaceId::from_uuid(id),
            code: new.code.clone(),
            fields,
            version: 1,
            created_at: now,
            updated_at: now,
        };
        places::insert(tx.connection(), &place)?;
        Ok(place)
    }

    fn update(tx: &mut Tx<'_>, _: &Principal, place: Place, write: &PlaceBody) -> Result<Place, Problem> {
        let fields = write.fields();
        no_faults(fields.check())?;
        let place =
            Record { code: write.code.clone(), fields, version: place.version + 1, updated_at: tx.now(), ..place };
        places::update(tx.connection(), &place)?;
        Ok(place)
    }

    fn delete(tx: &mut Tx<'_>, place: &Place) -> Result<(), Problem> {
        Ok(places::delete(tx.connection(), place.id)?)
    }
}
