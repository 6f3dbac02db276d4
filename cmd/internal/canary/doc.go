// Package canary looks for words in bytes, however they are written down there: in capitals or not, in UTF-8, UTF-16 or
// Latin-1, escaped for JSON, HTML or an address, in hexadecimal digits, or in base64 at any of its three alignments. Tests
// give invented patients names, numbers and addresses that stand nowhere else, and look for them wherever none may be.
//
// It does not look into what is compressed or encrypted.
package canary
