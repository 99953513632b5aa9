//! The README's blocks print what it says they print; on the shop with its history, `demo_history` pastes them too.

use dovetally_tests::{
    readme,
    server::{Backend, Server},
};

#[test]
fn the_first_five_minutes_print_what_they_say() {
    for backend in Backend::BOTH {
        readme::paste(&Server::on(backend).demo().start());
    }
}
