#include "app/server/net/certificate.h"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include "base/files.h"
#include "records/temporary_store.h"

namespace phren::app::server {
namespace {

TEST(Certificate, IsMadeOnceAndKeptForItsOwner) {
  const auto folder = records::temporary_folder() / "phren";
  const auto first = own_certificate(folder, {"10.0.0.5"});
  ASSERT_TRUE(first) << first.error().message;
  EXPECT_TRUE(first->is_new);
  EXPECT_EQ(first->fingerprint.size(), 32u * 3 - 1);
  struct stat info{};
  ASSERT_EQ(stat(first->private_key.c_str(), &info), 0);
  EXPECT_EQ(info.st_mode & 0777u, 0600u);
  const auto again = own_certificate(folder, {"10.0.0.5"});
  EXPECT_FALSE(again->is_new);
  EXPECT_EQ(again->fingerprint, first->fingerprint);
  const auto moved = own_certificate(folder, {"10.0.0.5", "192.168.1.9"});
  EXPECT_TRUE(moved->is_new) << "another address needs another certificate";
  ASSERT_TRUE(write_file(first->certificate, "not a certificate"));
  EXPECT_TRUE(own_certificate(folder, {})->is_new);
  std::filesystem::remove_all(folder.parent_path());
}

// OpenSSL's own program is the outside judge.
TEST(Certificate, OpensslFindsItSoundAndItsNames) {
  const auto folder = records::temporary_folder();
  const auto made = own_certificate(folder, {"10.0.0.5"});
  ASSERT_TRUE(made);
  const std::string file = made->certificate.string();
  const auto run = [](const std::string& command) {
    return std::system((command + " >/dev/null 2>&1").c_str());
  };
  ASSERT_EQ(run("openssl version"), 0) << "openssl is not installed";
  EXPECT_EQ(run("openssl verify -CAfile " + file + " -verify_ip 10.0.0.5 " + file), 0);
  EXPECT_EQ(run("openssl verify -CAfile " + file + " -verify_hostname localhost " + file), 0);
  EXPECT_NE(run("openssl verify -CAfile " + file + " -verify_ip 10.0.0.6 " + file), 0);
  EXPECT_EQ(run("openssl x509 -in " + file + " -noout -checkend 30000000"), 0);
  EXPECT_NE(run("openssl x509 -in " + file + " -noout -checkend 34400000"), 0);
  std::filesystem::remove_all(folder);
}

}  // namespace
}  // namespace phren::app::server
