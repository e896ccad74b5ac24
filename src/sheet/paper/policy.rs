//! What a page of HTML made here may load and run. The browser is told so by a Content Security Policy in the page's head: nothing but
//! what stands in the page itself.

use data_encoding::BASE64;
use sha2::{Digest, Sha256};

/// The element for a page's head. `script` is the exact content of the page's one script element. Its hash is named in the policy, so
/// a script from anywhere else does not run, not even one smuggled in by a name that was not escaped. `pictures` says where pictures may
/// come from.
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
