// A build without pages (-DPHREN_WEB=OFF): the server answers the JSON interface only.
#include "app/server/net/pages.h"

namespace phren::app::server {

std::span<const Page> embedded_pages() {
  return {};
}

}  // namespace phren::app::server
