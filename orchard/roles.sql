-- The two roles and the database, for psql as a superuser; a second run changes only passwords.
-- orchard_owner migrates and owns everything; orchard_app serves, owns nothing and cannot pass
-- by row security. Passwords come from OWNER_PASSWORD and APP_PASSWORD where these are set.
\set ON_ERROR_STOP on
\getenv owner_password OWNER_PASSWORD
\getenv app_password APP_PASSWORD

SELECT 'CREATE ROLE orchard_owner LOGIN CREATEDB'
WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'orchard_owner') \gexec
SELECT 'CREATE ROLE orchard_app LOGIN'
WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'orchard_app') \gexec

\if :{?owner_password}
ALTER ROLE orchard_owner PASSWORD :'owner_password';
\endif
\if :{?app_password}
ALTER ROLE orchard_app PASSWORD :'app_password';
\endif

-- Every new database is a copy of template1, so the test databases inherit these grants too.
\connect template1
ALTER DEFAULT PRIVILEGES FOR ROLE orchard_owner
    GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO orchard_app;
ALTER DEFAULT PRIVILEGES FOR ROLE orchard_owner GRANT USAGE, SELECT ON SEQUENCES TO orchard_app;
ALTER DEFAULT PRIVILEGES FOR ROLE orchard_owner GRANT EXECUTE ON FUNCTIONS TO orchard_app;
\connect postgres

SELECT 'CREATE DATABASE orchard OWNER orchard_owner'
WHERE NOT EXISTS (SELECT FROM pg_database WHERE datname = 'orchard') \gexec
