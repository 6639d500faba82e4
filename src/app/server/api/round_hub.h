// The rounds under way: their sockets, what is on its way to the store, and the beat that tells every device
// how far it may live.
//
// Rules:   a line is sent to others only after it is on disk; one commit at a time for each round, in order.
// Threads: any; one of its own keeps the beat while there is a round.
#pragma once

#include <memory>

#include "app/server/net/socket.h"
#include "records/rounds.h"
#include "teaching/library.h"

namespace phren::app::server {

class Lanes;

class RoundHub {
 public:
  static std::shared_ptr<RoundHub> make(std::shared_ptr<const teaching::Library> library);
  virtual ~RoundHub() = default;
  virtual void begin(const std::shared_ptr<Lanes>& lanes) = 0;
  virtual void stop() = 0;
  // Null before begin() and after stop().
  virtual std::shared_ptr<SocketUser> open(const Request& request,
                                           std::shared_ptr<Socket> socket) = 0;
};

}  // namespace phren::app::server
