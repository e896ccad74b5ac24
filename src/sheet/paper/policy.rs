//! What a page of ours may load and run, as the browser is told: itself alone.

use data_encoding::BASE64;
use sha2::{Digest, Sha256};

/// The element for a page's head. `script` is all that stands in its one script element, whose hash is named, so that a script
/// from anywhere else (a name that was not escaped, say) does not run; `pictures` is where its pictures may come from.
pub(crate) fn policy(script: &str, pictures: &str) -> String {
    format!(
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; \
         script-src 'sha256-{}'; img-src {pictures}; base-uri 'none'; form-action 'none'\">\n",
        BASE64.encode(&Sha256::digest(script.as_bytes()))
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The hash is what `openssl dgst -sha256 -binary | base64` says of the same text.
    #[test]
    fn a_script_is_named_by_its_hash() {
        let told = policy("doSomething();", "data:");
        assert!(
            told.contains("script-src 'sha256-RFWPLDbv2BY+rCkDzsE+0fr8ylGr2R2faWMhq4lfEQc='"),
            "{told}"
        );
    }
}
