//! Mesh, deposit and grams of ink.
