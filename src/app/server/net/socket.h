// An open WebSocket (RFC 6455) as the rest of the server has it: texts go out, texts come in.
//
// Errors:  a socket that reads too slowly, sends too much or too often is closed; its user learns of the
//          closing and nothing else.
// Threads: send() and close() from any; a user is called on the network thread, never two calls at once.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "app/server/net/http.h"

namespace phren::app::server {

class Socket {
 public:
  virtual ~Socket() = default;
  virtual void send(std::shared_ptr<const std::string> text) = 0;
  virtual void close(std::string_view why) = 0;  // at most 100 bytes, for a person
};

class SocketUser {
 public:
  virtual ~SocketUser() = default;
  virtual void on_text(std::string_view text) = 0;
  virtual void on_closed() = 0;  // once, the last call
};

// Null: refused.
using OpenSocket =
    std::function<std::shared_ptr<SocketUser>(const Request&, std::shared_ptr<Socket>)>;

}  // namespace phren::app::server
