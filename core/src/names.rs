//! One way to write enums whose names stand on the wire and in the database.

/// Declares an enum with its names, `ALL`, `name` and `from_name`.
#[macro_export]
macro_rules! named {
    ($(#[$outer:meta])* $name:ident { $($(#[$doc:meta])* $variant:ident = $text:literal,)* }) => {
        $(#[$outer])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
        pub enum $name {
            $($(#[$doc])* #[serde(rename = $text)] $variant,)*
        }

        impl $name {
            /// All of them, in the order of the text above.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The name on the wire and in the database.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $text,)* }
            }

            /// The name as it stands in a sentence: "needs grinding".
            #[must_use]
            pub fn words(self) -> String {
                self.name().replace('_', " ")
            }

            /// Reads the name; `None` for anything else.
            #[must_use]
            pub fn from_name(name: &str) -> Option<Self> {
                match name { $($text => Some(Self::$variant),)* _ => None }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.name())
            }
        }
    };
}
pub(crate) use named;
