#include "app/server/api/office.h"

#include <cstdlib>

#include "app/server/api/round_hub.h"
#include "records/passwords.h"

namespace phren::app::server {

Result<std::shared_ptr<Office>> Office::open(const std::filesystem::path& data,
                                             const OfficeOptions& options) {
  auto office = std::make_shared<Office>();
  office->options = options;
  office->library = TRY(teaching::Library::load(data, options.own_cases));
  office->player = std::make_shared<const DrillPlayer>(
      office->library, TRY(Specimens::load(data / "acoustics_specimens.toml")));
  office->data = data;
  office->show = std::make_shared<const Show>(
      TRY(Show::load(data / "show.toml", office->player->specimens())));
  office->book = {office->library, office->player};
  office->drill_secret = std::strtoull(records::random_id().substr(0, 15).c_str(), nullptr, 16);
  office->rounds = RoundHub::make(office->library);
  office->local_csrf = records::new_token();
  return office;
}

}  // namespace phren::app::server
