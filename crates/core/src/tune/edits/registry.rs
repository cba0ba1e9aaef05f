//! The macros that make an edit of a struct, and [`Edit`](super::Edit) of all of them.

/// The values of one kind of edit. What a value is called in the job file is its name in the window
/// and on the command line too; its doc comment is the hint and the help, its schema has range, unit
/// and default. Values with a default are options of the command line, the others come in their order.
macro_rules! edit {
    (
        $(#[$doc:meta])*
        pub struct $name:ident { $($(#[$field_doc:meta])* $field:ident: $type:ty),* $(,)? }
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name {
            $($(#[$field_doc])* pub $field: $type),*
        }

        impl $crate::tune::edits::kind::Values for $name {
            const FIELDS: &'static [(&'static str, $crate::tune::edits::Type)] =
                &[$((stringify!($field), <$type as $crate::tune::edits::field::Valued>::TYPE)),*];

            fn values(&mut self) -> Vec<$crate::tune::edits::Value<'_>> {
                vec![$($crate::tune::edits::field::Valued::value(&mut self.$field)),*]
            }

            fn needs(&self) -> Vec<&$crate::screens::ScreenName> {
                [$($crate::tune::edits::field::Valued::needs(&self.$field)),*].into_iter().flatten().collect()
            }

            fn adds(&self) -> Option<&$crate::screens::ScreenName> {
                [$($crate::tune::edits::field::Valued::adds(&self.$field)),*].into_iter().flatten().next()
            }
        }

        impl From<$name> for $crate::tune::edits::Edit {
            fn from(edit: $name) -> Self {
                Self::$name(edit)
            }
        }
    };
}

/// All kinds, in the order in which menus and help list them.
macro_rules! registry {
    ($($file:ident::$kind:ident),+ $(,)?) => {
        $(mod $file;)+
        $(pub use $file::$kind;)+

        /// One edit. Screens are named by their names, case ignored.
        #[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
        #[serde(rename_all = "kebab-case", tag = "kind")]
        #[allow(missing_docs, reason = "each kind is described at its own type")]
        pub enum Edit {
            $($kind($kind)),+
        }

        /// The same of every kind.
        macro_rules! each {
            ($edit:expr, $one:ident => $of:expr) => {
                match $edit {
                    $(Edit::$kind($one) => $of),+
                }
            };
        }

        /// What there is to know of each kind, in the order of the registry.
        static KINDS: std::sync::LazyLock<Vec<Info>> =
            std::sync::LazyLock::new(|| vec![$(Info::of::<$kind>(stringify!($kind))),+]);

        impl Edit {
            /// Its place in the list of kinds.
            fn place(&self) -> usize {
                /// The kinds, counted.
                enum Place {
                    $($kind),+
                }
                match self {
                    $(Self::$kind(_) => Place::$kind as usize),+
                }
            }
        }

        /// Edits of every kind that a menu offers for a screen, with values to begin from.
        pub fn offers(start: &Start<'_>) -> Vec<Offer> {
            let mut offers = Vec::new();
            $(offers.extend(<$kind as kind::Kind>::offers(start).into_iter().map(|(label, edit)| Offer {
                menu: <$kind as kind::Kind>::MENU,
                label,
                edit: edit.into(),
            }));)+
            offers
        }
    };
}
