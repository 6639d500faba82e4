// Preloaded into a server under test (LD_PRELOAD): its wall clock runs beside the true one, and its disk is full, as
// the files say that PHREN_TEST_CLOCK and PHREN_TEST_FULL name.
//
// PHREN_TEST_CLOCK: a file with the seconds to add, read at every look at the clock; monotonic clocks are left alone.
// PHREN_TEST_FULL:  "FLAG:PREFIX": while the file FLAG is there, nothing is added to files whose path begins with PREFIX.
#include <dlfcn.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/statvfs.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <sys/uio.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <ctime>

namespace {

long seconds_off() {
  static const char* const name = std::getenv("PHREN_TEST_CLOCK");
  if (name == nullptr) return 0;
  const int file = static_cast<int>(syscall(SYS_openat, AT_FDCWD, name, O_RDONLY | O_CLOEXEC));
  if (file < 0) return 0;
  char text[32] = {};
  const long bytes = syscall(SYS_read, file, text, sizeof text - 1);
  syscall(SYS_close, file);
  return bytes > 0 ? std::strtol(text, nullptr, 10) : 0;
}

// The prefix of the full disk's paths; null while it is not full.
const char* full_prefix() {
  static const char* const said = std::getenv("PHREN_TEST_FULL");
  const char* const colon = said == nullptr ? nullptr : std::strchr(said, ':');
  char flag[512] = {};
  if (colon == nullptr || colon - said >= static_cast<long>(sizeof flag)) return nullptr;
  std::memcpy(flag, said, static_cast<std::size_t>(colon - said));
  return access(flag, F_OK) == 0 ? colon + 1 : nullptr;
}

bool is_full(int file) {
  const char* const prefix = full_prefix();
  if (prefix == nullptr) return false;
  char link[64], path[1024] = {};
  std::snprintf(link, sizeof link, "/proc/self/fd/%d", file);
  const ssize_t length = readlink(link, path, sizeof path - 1);
  return length > 0 && std::strncmp(path, prefix, std::strlen(prefix)) == 0;
}

// What is written into the room that a file already has still fits.
bool has_no_room(int file, off_t at, std::size_t bytes) {
  if (!is_full(file)) return false;
  struct stat found{};
  if (fstat(file, &found) == 0 && at + static_cast<off_t>(bytes) <= found.st_size) return false;
  errno = ENOSPC;
  return true;
}

template <class Call>
Call next(const char* name) {
  return reinterpret_cast<Call>(dlsym(RTLD_NEXT, name));
}

}  // namespace

extern "C" {

int clock_gettime(clockid_t id, timespec* time) noexcept {
  const long result = syscall(SYS_clock_gettime, id, time);
  if (result == 0 && (id == CLOCK_REALTIME || id == CLOCK_REALTIME_COARSE)) {
    time->tv_sec += seconds_off();
  }
  return static_cast<int>(result);
}
int gettimeofday(timeval* time, void*) noexcept {
  timespec now{};
  clock_gettime(CLOCK_REALTIME, &now);
  *time = {now.tv_sec, now.tv_nsec / 1000};
  return 0;
}
time_t time(time_t* out) noexcept {
  timespec now{};
  clock_gettime(CLOCK_REALTIME, &now);
  if (out != nullptr) *out = now.tv_sec;
  return now.tv_sec;
}

ssize_t pwrite64(int file, const void* data, size_t bytes, off64_t at) {
  if (has_no_room(file, at, bytes)) return -1;
  return next<ssize_t (*)(int, const void*, size_t, off64_t)>("pwrite64")(file, data, bytes, at);
}
ssize_t pwrite(int file, const void* data, size_t bytes, off_t at) {
  return pwrite64(file, data, bytes, at);
}
ssize_t pwritev(int file, const iovec* parts, int count, off_t at) {
  std::size_t bytes = 0;
  for (int i = 0; i < count; ++i) bytes += parts[i].iov_len;
  if (has_no_room(file, at, bytes)) return -1;
  return next<ssize_t (*)(int, const iovec*, int, off_t)>("pwritev")(file, parts, count, at);
}
ssize_t write(int file, const void* data, size_t bytes) {
  if (is_full(file) && has_no_room(file, lseek(file, 0, SEEK_CUR), bytes)) return -1;
  return syscall(SYS_write, file, data, bytes);
}
int statvfs(const char* path, struct statvfs* out) noexcept {
  const int result = next<int (*)(const char*, struct statvfs*)>("statvfs")(path, out);
  const char* const prefix = full_prefix();
  const bool is_there = prefix != nullptr && std::strncmp(path, prefix, std::strlen(path)) == 0;
  if (result == 0 && is_there) out->f_bavail = out->f_bfree = 0;
  return result;
}
int posix_fallocate(int file, off_t at, off_t bytes) {
  if (has_no_room(file, at, static_cast<std::size_t>(bytes))) return ENOSPC;
  return next<int (*)(int, off_t, off_t)>("posix_fallocate")(file, at, bytes);
}

}  // extern "C"
