// Every command of the `phren` program. Each add_<name> is in src/app/cli/<name>.cc.
#pragma once

namespace phren::app {

class Program;

void add_cases(Program& program);
void add_compare(Program& program);
void add_conditions(Program& program);
void add_doctor(Program& program);
void add_evidence(Program& program);
void add_examine(Program& program);
void add_import(Program& program);
void add_instruments(Program& program);
void add_measure(Program& program);
void add_records(Program& program);
void add_render(Program& program);
void add_replay(Program& program);
void add_score(Program& program);
void add_serve(Program& program);
void add_sites(Program& program);
void add_specimen(Program& program);
void add_watch(Program& program);
void add_weigh(Program& program);

}  // namespace phren::app
