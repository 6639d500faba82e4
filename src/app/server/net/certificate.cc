#include "app/server/net/certificate.h"

#include <arpa/inet.h>
#include <ifaddrs.h>
#include <net/if.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509v3.h>
#include <sys/stat.h>

#include <array>
#include <cstdio>
#include <memory>

#include "base/files.h"

namespace phren::app::server {
namespace {

constexpr long kValid_s = 397L * 24 * 3600;
constexpr int kRenewBefore_days = 14;

struct Freer {
  void operator()(EVP_PKEY* key) const { EVP_PKEY_free(key); }
  void operator()(X509* certificate) const { X509_free(certificate); }
  void operator()(BIO* bio) const { BIO_free(bio); }
  void operator()(X509_EXTENSION* extension) const { X509_EXTENSION_free(extension); }
};
using Certificate = std::unique_ptr<X509, Freer>;

Error trouble(const char* what) {
  return {ErrorCode::kIo, std::string("the certificate could not be made: ") + what};
}

std::string fingerprint_of(X509* certificate) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  if (X509_digest(certificate, EVP_sha256(), digest.data(), &length) != 1) return {};
  std::string text;
  for (unsigned int i = 0; i < length; ++i) {
    char two[4];
    std::snprintf(two, sizeof two, "%02X", digest[i]);
    text += (i ? ":" : "") + std::string(two);
  }
  return text;
}

Certificate read_certificate(const std::filesystem::path& file) {
  const auto text = read_file(file);
  if (!text) return nullptr;
  const std::unique_ptr<BIO, Freer> bio(
      BIO_new_mem_buf(text->data(), static_cast<int>(text->size())));
  return Certificate(PEM_read_bio_X509(bio.get(), nullptr, nullptr, nullptr));
}

bool is_still_good(X509* certificate, const std::vector<std::string>& addresses) {
  int days = 0, seconds = 0;
  if (ASN1_TIME_diff(&days, &seconds, nullptr, X509_get0_notAfter(certificate)) != 1) return false;
  if (days < kRenewBefore_days) return false;
  for (const std::string& address : addresses) {
    if (X509_check_ip_asc(certificate, address.c_str(), 0) != 1) return false;
  }
  return true;
}

bool add_extension(X509* certificate, int id, const std::string& value) {
  X509V3_CTX context;
  X509V3_set_ctx_nodb(&context);
  X509V3_set_ctx(&context, certificate, certificate, nullptr, nullptr, 0);
  const std::unique_ptr<X509_EXTENSION, Freer> extension(
      X509V3_EXT_conf_nid(nullptr, &context, id, value.c_str()));
  return extension != nullptr && X509_add_ext(certificate, extension.get(), -1) == 1;
}

Certificate make_certificate(EVP_PKEY* key, const std::vector<std::string>& addresses) {
  Certificate certificate(X509_new());
  X509* made = certificate.get();
  std::string names = "DNS:localhost,IP:127.0.0.1";
  for (const std::string& address : addresses) names += ",IP:" + address;
  const auto* name = reinterpret_cast<const unsigned char*>("Phren on this network");
  std::array<unsigned char, 8> serial{};
  bool ok = made != nullptr && X509_set_version(made, 2) == 1;
  if (std::FILE* random = std::fopen("/dev/urandom", "rb")) {
    ok = ok && std::fread(serial.data(), 1, serial.size(), random) == serial.size();
    std::fclose(random);
  }
  serial[0] &= 0x7f;
  ok = ok && ASN1_INTEGER_set_uint64(X509_get_serialNumber(made),
                                     (static_cast<std::uint64_t>(serial[0]) << 56) |
                                         (static_cast<std::uint64_t>(serial[1]) << 48) |
                                         (static_cast<std::uint64_t>(serial[2]) << 40) |
                                         (static_cast<std::uint64_t>(serial[3]) << 32) | 1u) == 1;
  ok = ok && X509_gmtime_adj(X509_getm_notBefore(made), -3600) != nullptr &&
       X509_gmtime_adj(X509_getm_notAfter(made), kValid_s) != nullptr &&
       X509_set_pubkey(made, key) == 1 &&
       X509_NAME_add_entry_by_txt(X509_get_subject_name(made), "CN", MBSTRING_UTF8, name, -1, -1,
                                  0) == 1 &&
       X509_set_issuer_name(made, X509_get_subject_name(made)) == 1 &&
       add_extension(made, NID_basic_constraints, "critical,CA:FALSE") &&
       add_extension(made, NID_key_usage, "critical,digitalSignature") &&
       add_extension(made, NID_ext_key_usage, "serverAuth") &&
       add_extension(made, NID_subject_alt_name, names) && X509_sign(made, key, EVP_sha256()) > 0;
  return ok ? std::move(certificate) : nullptr;
}

std::string text_of(BIO* bio) {
  char* data = nullptr;
  const long length = BIO_get_mem_data(bio, &data);
  return {data, static_cast<std::size_t>(length)};
}

Status write_private(const std::filesystem::path& file, const std::string& text) {
  const mode_t old = umask(077);
  auto written = write_file(file, text);
  umask(old);
  std::error_code ignored;
  std::filesystem::permissions(
      file, std::filesystem::perms::owner_read | std::filesystem::perms::owner_write, ignored);
  return written;
}

}  // namespace

Result<CertificateFiles> own_certificate(const std::filesystem::path& directory,
                                         const std::vector<std::string>& addresses) {
  CertificateFiles files{directory / "certificate.pem", directory / "private_key.pem", {}};
  if (const Certificate kept = read_certificate(files.certificate);
      kept && std::filesystem::exists(files.private_key) && is_still_good(kept.get(), addresses)) {
    files.fingerprint = fingerprint_of(kept.get());
    return files;
  }
  TRY(make_directories(directory));
  const std::unique_ptr<EVP_PKEY, Freer> key(EVP_EC_gen("P-256"));
  if (!key) return fail(trouble("no key"));
  const Certificate certificate = make_certificate(key.get(), addresses);
  if (!certificate) return fail(trouble("signing failed"));
  const std::unique_ptr<BIO, Freer> key_text(BIO_new(BIO_s_mem())), text(BIO_new(BIO_s_mem()));
  if (PEM_write_bio_PrivateKey(key_text.get(), key.get(), nullptr, nullptr, 0, nullptr, nullptr) !=
          1 ||
      PEM_write_bio_X509(text.get(), certificate.get()) != 1) {
    return fail(trouble("it could not be written as text"));
  }
  if (auto ok = write_private(files.private_key, text_of(key_text.get())); !ok) {
    return fail(ok.error());
  }
  TRY(write_file(files.certificate, text_of(text.get())));
  files.fingerprint = fingerprint_of(certificate.get());
  files.is_new = true;
  return files;
}

std::vector<std::string> network_addresses() {
  std::vector<std::string> list;
  ifaddrs* all = nullptr;
  if (getifaddrs(&all) != 0) return list;
  for (const ifaddrs* one = all; one != nullptr; one = one->ifa_next) {
    if (one->ifa_addr == nullptr || one->ifa_addr->sa_family != AF_INET) continue;
    if ((one->ifa_flags & IFF_LOOPBACK) != 0 || (one->ifa_flags & IFF_UP) == 0) continue;
    std::array<char, INET_ADDRSTRLEN> text{};
    const auto* address = reinterpret_cast<const sockaddr_in*>(one->ifa_addr);
    if (inet_ntop(AF_INET, &address->sin_addr, text.data(), text.size()) != nullptr) {
      list.emplace_back(text.data());
    }
  }
  freeifaddrs(all);
  return list;
}

}  // namespace phren::app::server
