//! What the shop has, as a printed job remembers it, and how a job follows the shop.

use strikeoff_core::ink::Ink;
use strikeoff_core::job::Job;
use strikeoff_core::names::same;
use strikeoff_core::reorder::{FingerprintOf, ShopState};

use super::{MeshDefaults, ShopProfile};

impl ShopProfile {
    /// What the shop has of all that a job rests on.
    pub fn state_for(&self, job: &Job) -> ShopState {
        let mut named: Vec<String> = job.clone().inks_mut().map(|ink| ink.name.clone()).collect();
        named.dedup();
        let named = |ink: &&Ink| named.iter().any(|own| same(own, &ink.name));
        // Of the press that the job was measured on; without one the latest.
        let own = job.run.fingerprint.as_ref();
        let latest = self.fingerprints.iter().find(|print| own.is_none_or(|own| same(&own.name, &print.name)));
        ShopState {
            inks: self.shelf.inks.iter().filter(named).cloned().collect(),
            gain: self.gain_curves.first().cloned(),
            mesh: self.mesh,
            fingerprint: latest.map(|print| FingerprintOf { name: print.name.clone(), date: print.date.clone() }),
            rates: self.rates.clone(),
        }
    }

    /// Gives a job that has the shop's usual meshes of another day those of today.
    pub(crate) fn follow_mesh(&self, job: &mut Job, before: MeshDefaults) {
        let then = Self { mesh: before, meshes: job.run.meshes_at_hand.clone(), ..Self::default() };
        let usual = then.usual_mesh(job) == job.run.mesh;
        let underbase = then.mesh_near(before.underbase_tpi, &job.run.mesh);
        let now = self.mesh_near(self.mesh.underbase_tpi, &job.run.mesh);
        for own in job
            .run
            .meshes
            .values_mut()
            .filter(|own| before.underbase_tpi != self.mesh.underbase_tpi && **own == underbase)
        {
            own.clone_from(&now);
        }
        if usual {
            job.run.mesh = self.usual_mesh(job);
        }
        job.run.meshes_at_hand.clone_from(&self.meshes);
    }
}
