// Everything a class needs over HTTP: docs/formats/class-api.md. One file per noun.
#pragma once

#include <memory>

#include "app/server/api/office.h"
#include "app/server/api/routes.h"

namespace phren::app::server {

void add_health_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_session_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_class_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_roster_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_people_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_learner_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_report_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_export_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_station_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_board_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_standard_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_encounter_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_result_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_ability_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_drill_rule_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_round_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_patient_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_show_routes(RouteTable& table, const std::shared_ptr<const Office>& office);
void add_drill_routes(RouteTable& table, const std::shared_ptr<const Office>& office);

}  // namespace phren::app::server
