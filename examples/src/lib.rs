//! Example programs and small jobs; see the `examples` folder of this package.
