#![no_main]

use boundwalk_fuzz::entry;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| entry::form(bytes));
