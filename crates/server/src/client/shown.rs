//! What a link shows, and what exactly is accepted by it.

use crate::error::ApiError;
use crate::firm::Firm;
use crate::jobs::OpenJob;
use crate::random::sha256;
use crate::store::ClientLink;
use loamline_papers::{Offer, PackOptions, Results, Words, offer};
use serde::Serialize;

/// What a link shows of a job as it now is.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shown {
    /// The job's name.
    pub name: String,
    /// A sentence or two about it.
    pub summary: String,
    /// Its revision.
    pub revision: u64,
    /// The offer, without prices where the link has none.
    pub offer: Offer,
    /// SHA-256 of the text of the job the offer is worked out from, hexadecimal.
    pub job_sha256: String,
    /// SHA-256 of the plan.
    pub plan_sha256: String,
    /// The plan.
    #[serde(skip)]
    pub plan_svg: String,
    /// The language of what it says.
    #[serde(skip)]
    pub words: Words,
}

impl Shown {
    /// What a link shows now, as the firm offers it.
    ///
    /// # Errors
    /// When the offer cannot be worked out, or what is kept of the firm cannot be read any more.
    pub fn of(job: &OpenJob, link: &ClientLink, firm: &Firm) -> Result<Self, ApiError> {
        let now = job.now();
        let mut options = PackOptions::usual().map_err(crate::error::cannot)?;
        firm.put_on(&mut options, now.file.job())?;
        options.units = now.file.job().document().units();
        options.paper = now.file.job().document().paper(options.units);
        let made = offer(now.file.job(), &Results::of(&now.study), &options).map_err(crate::error::cannot)?;
        let about = &now.file.job().document().about;
        let made = if link.prices { made } else { made.without_prices() };
        Ok(Self {
            name: about.name.clone(),
            summary: about.summary.clone(),
            revision: now.revision,
            job_sha256: sha256(now.file.text().as_bytes()),
            plan_sha256: sha256(made.plan_svg.as_bytes()),
            plan_svg: made.plan_svg.clone(),
            words: options.words,
            offer: made,
        })
    }

    /// Exactly what is accepted, as a text.
    ///
    /// # Errors
    /// Never in practice: it is plain data.
    pub fn content(&self) -> Result<String, ApiError> {
        serde_json::to_string_pretty(self).map_err(|_| ApiError::gave_up())
    }

    /// SHA-256 of that, hexadecimal.
    ///
    /// # Errors
    /// As [`Shown::content`].
    pub fn sha256(&self) -> Result<String, ApiError> {
        Ok(sha256(self.content()?.as_bytes()))
    }
}
