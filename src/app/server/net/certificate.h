// A certificate of this machine's own making, for a room's network where no authority signs one.
//
// Errors:  kIo when key or certificate cannot be made or written.
// Source:  X.509 v3 through OpenSSL: P-256 key, 397 days (what browsers accept at most), the names
// and
//          addresses of this machine as subject alternative names.
// Safety:  the key is written for its owner alone (mode 600).
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "base/result.h"

namespace phren::app::server {

struct CertificateFiles {
  std::filesystem::path certificate, private_key;
  std::string fingerprint;  // SHA-256, as a browser shows it: "AB:CD:..."
  bool is_new = false;
};

// Uses the pair in `directory` while it is valid for the addresses and two weeks more; else makes
// one.
Result<CertificateFiles> own_certificate(const std::filesystem::path& directory,
                                         const std::vector<std::string>& addresses);

// IPv4 addresses by which other machines may reach this one; loopback is left out.
std::vector<std::string> network_addresses();

}  // namespace phren::app::server
