//! What a shop has to choose from, as it is typed and as a job takes it: meshes and film angles.

use strikeoff_core::job::Job;
use strikeoff_core::names::short;
use strikeoff_core::units::Degrees;
use strikeoff_core::usage::{Mesh, choose_from};

use super::ShopProfile;

impl ShopProfile {
    /// The shop's meshes as they are typed: "110/80, 230/48"; empty for the shelf of usual ones.
    pub fn meshes_typed(&self) -> String {
        self.meshes.iter().map(|mesh| mesh.name.as_str()).collect::<Vec<_>>().join(", ")
    }

    /// Takes the shop's meshes from what was typed. An error is one sentence.
    pub fn set_meshes(&mut self, typed: &str) -> Result<(), String> {
        let mut meshes: Vec<Mesh> = Vec::new();
        for word in words(typed) {
            // A mesh that the shop entered with figures of its own keeps them.
            let known = self.meshes.iter().find(|mesh| mesh.name == word).cloned();
            let mesh = known.map_or_else(|| Mesh::named(word).map_err(|e| e.to_string()), Ok)?;
            if !meshes.contains(&mesh) {
                meshes.push(mesh);
            }
        }
        self.meshes = meshes;
        Ok(())
    }

    /// The shop's film angles as they are typed: "22.5, 52.5, 82.5"; empty for any.
    pub fn angles_typed(&self) -> String {
        self.angles.iter().map(|angle| angle.get().to_string()).collect::<Vec<_>>().join(", ")
    }

    /// Takes the shop's film angles from what was typed. An error is one sentence.
    pub fn set_angles(&mut self, typed: &str) -> Result<(), String> {
        let mut angles: Vec<Degrees> = Vec::new();
        for word in words(typed) {
            let angle: Degrees = word.parse().map_err(|_| {
                format!("\"{}\" is no angle; type degrees with commas between, as 22.5, 52.5, 82.5", short(word))
            })?;
            if !angles.contains(&angle) {
                angles.push(angle);
            }
        }
        self.angles = angles;
        Ok(())
    }

    /// The shop's mesh that is nearest to a count; `now` if there is none.
    pub(super) fn mesh_near(&self, tpi: f64, now: &Mesh) -> Mesh {
        let off = |m: &&Mesh| (m.threads_per_inch - tpi).abs();
        let nearest = choose_from(&self.meshes).into_iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        nearest.unwrap_or(now).clone()
    }

    /// Gives a job what the shop has to choose from. Angles of films that the shop cannot make give way to the nearest.
    pub(super) fn give_choices(&self, job: &mut Job) {
        job.run.meshes_at_hand.clone_from(&self.meshes);
        job.film.angles_at_hand.clone_from(&self.angles);
        job.film.angle = job.film.nearest_angle(job.film.angle);
    }
}

fn words(typed: &str) -> impl Iterator<Item = &str> {
    typed.split([',', ';', ' ']).map(str::trim).filter(|word| !word.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_comes_back_and_what_is_no_mesh_or_angle_is_said() {
        let mut shop = ShopProfile::default();
        shop.set_meshes("110/80, 230/48 230/48;195/55").unwrap();
        assert_eq!(shop.meshes_typed(), "110/80, 230/48, 195/55");
        shop.set_angles("22.5, 52.5 -7.5").unwrap();
        assert_eq!(shop.angles_typed(), "22.5, 52.5, -7.5");
        let before = shop.clone();
        assert!(shop.set_meshes("230/48, fine").unwrap_err().contains("fine"));
        assert!(shop.set_angles("22.5, steep").unwrap_err().contains("\"steep\" is no angle"));
        assert_eq!(shop, before);
        shop.set_meshes(" ").unwrap();
        shop.set_angles("").unwrap();
        assert!(shop.meshes.is_empty() && shop.angles.is_empty());
    }

    #[test]
    fn a_new_job_has_only_what_the_shop_has() {
        let mut shop = ShopProfile::default();
        shop.set_meshes("110/80, 200/48").unwrap();
        shop.set_angles("25, 55, 85").unwrap();
        let mut job = Job::new(strikeoff_core::ink::Garment::of_color("#202020".parse().unwrap()));
        let inks = ["Base white", "Brick red"].map(|name| shop.shelf.find(name).unwrap().clone());
        job.separation = strikeoff_core::separate::SeparationSettings::for_inks(inks);
        shop.apply_to(&mut job);
        job.give_angles();
        assert_eq!(job.run.mesh.name, "200/48");
        let angle = |name: &str| job.film.of_screen(&name.into()).1.get();
        assert_eq!((angle("Brick red"), angle("Base white")), (25.0, 55.0));
        job.check().unwrap();
    }
}
